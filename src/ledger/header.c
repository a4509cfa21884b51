
#include <errno.h>
#include <sqlite3.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "fail.h"
#include "ledger/schema.h"

/* "Database File Format", section 1.3 (sqlite.org/fileformat2.html): the header is 100 bytes. */
enum { HEADER = 100, WRITE_VERSION = 18, READ_VERSION = 19, USER_VERSION = 60, APPLICATION_ID = 68 };

static uint32_t big_endian(const unsigned char *byte)
{
    return (uint32_t)byte[0] << 24 | (uint32_t)byte[1] << 16 | (uint32_t)byte[2] << 8 | byte[3];
}

/* Through SQLite's own file layer: closing any descriptor of a file drops every POSIX lock that this process has on it,
 * which that layer handles and open(2) does not ("How To Corrupt An SQLite Database File", 2.2). */
static int read_header(const char *path, unsigned char *header)
{
    sqlite3_vfs *vfs = sqlite3_vfs_find(NULL);
    sqlite3_file *file = vfs ? calloc(1, (size_t)vfs->szOsFile) : NULL;
    char *full = vfs ? malloc((size_t)vfs->mxPathname + 1) : NULL;
    int code = file && full ? vfs->xFullPathname(vfs, path, vfs->mxPathname, full) : SQLITE_NOMEM;
    memset(header, 0, HEADER);
    if ((code & 0xff) == SQLITE_OK)
        code = vfs->xOpen(vfs, full, file, SQLITE_OPEN_READONLY | SQLITE_OPEN_MAIN_DB, NULL);
    if ((code & 0xff) == SQLITE_OK)
        code = file->pMethods->xRead(file, header, HEADER, 0); /* pads with zeros */
    if (file && file->pMethods)
        file->pMethods->xClose(file);
    free(file);
    free(full);
    return code == SQLITE_IOERR_SHORT_READ ? SQLITE_OK : code;
}

static bool all_zero(const unsigned char *header)
{
    for (int i = 0; i < HEADER; i++)
        if (header[i] != 0)
            return false;
    return true;
}

/* There may be pages before the first when the very first write was interrupted; its journal is then still there. */
static bool has_journal(const char *path)
{
    char *journal = sqlite3_mprintf("%s-journal", path);
    struct stat info;
    bool there = journal && stat(journal, &info) == 0 && info.st_size > 0;
    sqlite3_free(journal);
    return there;
}

static enum lds_status judge(const char *path, const unsigned char *header, struct lds_error *error)
{
    if (memcmp(header, "SQLite format 3", 16) != 0)
        return lds_fail(error, LDS_BAD_INPUT, "%s: not a ledger: expected a file that 'loadside job --ledger' made",
                        path);
    if (big_endian(header + APPLICATION_ID) != LDS_LEDGER_ID)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: the database of another program: expected a ledger that 'loadside job --ledger' made",
                        path);
    uint32_t version = big_endian(header + USER_VERSION);
    if (version > LDS_LEDGER_VERSION && version < 1000) /* a larger one is damage */
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: a ledger of version %u, and this program knows up to %d: use the newer program", path,
                        version, LDS_LEDGER_VERSION);
    if (version == 0 || version > LDS_LEDGER_VERSION)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: this ledger is damaged (version %u) and was left as it is: restore a copy of it", path,
                        version);
    if (header[WRITE_VERSION] != 1 || header[READ_VERSION] != 1)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: this ledger is damaged, or another program has turned on its write-ahead log; it was left "
                        "as it is: restore a copy, or turn the log off there (PRAGMA journal_mode = DELETE)",
                        path);
    return LDS_OK;
}

enum lds_status lds_ledger_look(const char *path, enum lds_ledger_file *found, struct lds_error *error)
{
    struct stat info;
    unsigned char header[HEADER];
    *found = LDS_LEDGER_MISSING;
    if (stat(path, &info) != 0) {
        if (errno == ENOENT)
            return LDS_OK;
        return lds_fail(error, LDS_IO, "%s: cannot be read: %s", path, strerror(errno));
    }
    if (!S_ISREG(info.st_mode))
        return lds_fail(error, LDS_BAD_INPUT, "%s: %s: a ledger is a file: name one", path,
                        S_ISDIR(info.st_mode) ? "a folder" : "a device or a pipe");
    /* Another program may be writing its first page at this moment; the second look then finds a header. The length is
     * asked of the system, since SQLite takes a file of one byte for an empty one. */
    for (int look = 0; look < 2; look++) {
        int code = read_header(path, header);
        if (code != SQLITE_OK)
            return lds_fail(error, code == SQLITE_NOMEM ? LDS_NO_MEMORY : LDS_IO,
                            "%s: cannot be read (%s): give yourself permission to read it", path, sqlite3_errstr(code));
        *found = LDS_LEDGER_EMPTY;
        if (info.st_size == 0 || (all_zero(header) && has_journal(path)))
            return LDS_OK;
        if (!all_zero(header))
            break;
    }
    *found = LDS_LEDGER_THERE;
    return judge(path, header, error);
}
