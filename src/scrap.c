#include "scrap.h"

#include <stdlib.h>
#include <string.h>

#include "scarce.h"

static bool grow(struct lds_scrap *scrap, size_t wanted)
{
    size_t room = scrap->room;
    while (room < wanted)
        room *= 2;
    char *more = room > scrap->room ? realloc(scrap->text, room) : scrap->text;
    if (!more)
        return false;
    scrap->text = more;
    scrap->room = room;
    return true;
}

static ssize_t write_more(void *cookie, const char *bytes, size_t count)
{
    struct lds_scrap *scrap = cookie;
    scrap->failed = scrap->failed || !grow(scrap, scrap->size + count + 1);
    if (scrap->failed)
        return 0;
    memcpy(scrap->text + scrap->size, bytes, count);
    scrap->size += count;
    return (ssize_t)count;
}

bool lds_scrap_open(struct lds_scrap *scrap)
{
    enum { FIRST_ROOM = 256 };
    *scrap = (struct lds_scrap){.text = malloc(FIRST_ROOM), .room = FIRST_ROOM};
    if (scrap->text)
        scrap->out = fopencookie(scrap, "w", (cookie_io_functions_t){.write = write_more});
    if (scrap->out)
        return true;
    free(scrap->text);
    scrap->text = NULL;
    lds_scarce_note();
    return false;
}

bool lds_scrap_close(struct lds_scrap *scrap)
{
    bool whole = !ferror(scrap->out);
    whole = fclose(scrap->out) == 0 && whole && !scrap->failed;
    scrap->out = NULL;
    if (whole) {
        scrap->text[scrap->size] = '\0';
        return true;
    }
    free(scrap->text);
    scrap->text = NULL;
    lds_scarce_note();
    return false;
}
