/* Text with a time column and one or more columns of volts, as oscilloscopes export it. The rows are read once into two
 * temporary files: the volts, which become the capture, and the times, which are checked and dropped. */
#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "capture/csv_parts.h"
#include "capture/reader.h"
#include "capture/spool.h"
#include "capture/text.h"
#include "fail.h"
#include "number.h"

enum { HEADER_LINES_MAX = 200, COLUMNS_MAX = LDS_CHANNELS_MAX + 1 };

struct csv {
    const char *name;
    struct lds_line_reader lines;
    char separator;
    int columns;
    double scale[COLUMNS_MAX]; /* of each column, from the unit in the header */
    FILE *times, *volts;
    struct lds_decimal_commas commas;
    int64_t rows;
    int64_t first_line; /* of the rows */
};

struct unit {
    const char *name;
    double scale; /* to seconds or volts; 0: the unit is of another kind */
    bool time;
};

static const struct unit units[] = {
    {"s", 1.0, true},    {"sec", 1.0, true},  {"second", 1.0, true},      {"seconds", 1.0, true},
    {"ms", 1e-3, true},  {"us", 1e-6, true},  {"\xc2\xb5s", 1e-6, true},  {"\xce\xbcs", 1e-6, true},
    {"ns", 1e-9, true},  {"V", 1.0, false},   {"volt", 1.0, false},       {"volts", 1.0, false},
    {"mV", 1e-3, false}, {"uV", 1e-6, false}, {"\xc2\xb5V", 1e-6, false}, {"\xce\xbcV", 1e-6, false},
    {"kV", 1e3, false},  {"Hz", 0.0, false},  {"kHz", 0.0, false},        {"MHz", 0.0, false},
    {"dB", 0.0, false},  {"dBV", 0.0, false}, {"A", 0.0, false},          {"mA", 0.0, false},
    {"W", 0.0, false},
};

static const struct unit *find_unit(const char *text, size_t length)
{
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (strlen(units[i].name) == length && !memcmp(units[i].name, text, length))
            return &units[i];
    return NULL;
}

struct header_cell {
    const struct unit *unit; /* NULL: none */
    bool bare;               /* the cell holds nothing but the unit */
    bool number;
};

/* The unit in a header cell: the whole cell, the text in its last pair of brackets, or the text after a slash. */
static struct header_cell read_header_cell(const char *cell, size_t length)
{
    while (length > 0 && strchr(" \t\"", cell[0]))
        cell++, length--;
    while (length > 0 && strchr(" \t\"", cell[length - 1]))
        length--;
    struct header_cell read = {.unit = find_unit(cell, length), .bare = true};
    double value;
    read.number = length > 0 && lds_number_read(cell, '.', &value, NULL) == cell + length;
    if (read.unit || length == 0)
        return read;
    const char *open = NULL;
    for (size_t i = 0; i < length; i++)
        if (strchr("([/", cell[i]))
            open = cell + i;
    if (!open)
        return read;
    size_t inside = length - (size_t)(open + 1 - cell);
    while (inside > 0 && strchr(")] ", open[inside]))
        inside--;
    size_t blanks = strspn(open + 1, " ");
    blanks = blanks < inside ? blanks : inside;
    read.unit = find_unit(open + 1 + blanks, inside - blanks);
    read.bare = open == cell;
    return read;
}

/* Takes the units of a header line. A line with numbers in it describes the whole file. A unit alone may be the name of
 * a channel ("A"): it counts if the line holds only units, or if it fits the column and the line is just above the
 * rows. */
static enum lds_status header_units(struct csv *csv, const char *line, bool last, struct lds_error *error)
{
    struct header_cell cell[COLUMNS_MAX];
    const char *at = line;
    int cells = 0;
    bool all_units = true;
    for (; cells < csv->columns && at; cells++) {
        const char *end = strchr(at, csv->separator);
        cell[cells] = read_header_cell(at, end ? (size_t)(end - at) : strlen(at));
        if (cell[cells].number)
            return LDS_OK;
        all_units = all_units && cell[cells].unit;
        at = end ? end + 1 : NULL;
    }
    bool halves = csv->separator == ',' && last && cells >= 2 && !at && 2 * cells == csv->columns;
    for (int column = 0; column < cells; column++) {
        const struct unit *unit = cell[column].unit;
        csv->commas.shown = csv->commas.shown || (halves && unit); /* half as many names as numbers */
        bool fits = unit && unit->scale > 0.0 && unit->time == (column == 0);
        if (!unit || (cell[column].bare && !all_units && !(last && fits)))
            continue;
        if (!fits)
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s: column %d is in %s; a time column in s and columns in V were expected", csv->name,
                            column + 1, unit->name);
        csv->scale[column] = unit->scale;
    }
    return LDS_OK;
}

static enum lds_status line_trouble(const struct csv *csv, struct lds_error *error)
{
    if (csv->lines.failed)
        return lds_fail(error, LDS_IO, "%s: cannot be read: %s", csv->name, strerror(errno));
    if (csv->lines.too_long)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: line %" PRId64 " is longer than %d bytes; a row of numbers was expected", csv->name,
                        csv->lines.number + 1, LDS_LINE_MAX);
    if (csv->lines.has_zero)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: line %" PRId64
                        " holds a byte 0, which text does not; a row of numbers was expected: export "
                        "it again, as UTF-8",
                        csv->name, csv->lines.number + 1);
    return LDS_OK;
}

/* Finds the first row of numbers, and learns from it how the rows are written. */
static enum lds_status find_rows(struct csv *csv, struct lds_error *error)
{
    struct lds_cell cell[LDS_CELLS_MAX];
    bool one_column = false;
    char *line;
    while (csv->lines.number < HEADER_LINES_MAX && (line = lds_lines_next(&csv->lines))) {
        csv->separator = lds_row_separator(line, cell, &csv->columns);
        if (csv->separator && csv->columns > COLUMNS_MAX)
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s: line %" PRId64 " has more than %d columns; a time column and 1 to %d of "
                            "volts can be read",
                            csv->name, csv->lines.number, COLUMNS_MAX, LDS_CHANNELS_MAX);
        if (csv->separator) {
            csv->first_line = csv->lines.number;
            lds_decimal_commas_start(&csv->commas, csv->separator);
            return LDS_OK;
        }
        one_column = one_column || lds_row_read(line, '\t', cell) == 1;
    }
    enum lds_status status = line_trouble(csv, error);
    if (status)
        return status;
    if (one_column)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: has one column of numbers; a time column and volts were expected: export "
                        "the time too",
                        csv->name);
    return lds_fail(error, LDS_BAD_INPUT,
                    "%s: is text without rows of time and volts; a capture was expected: export samples "
                    "as WAV, another sound file or CSV",
                    csv->name);
}

static enum lds_status read_header(struct csv *csv, struct lds_error *error)
{
    for (int i = 0; i < COLUMNS_MAX; i++)
        csv->scale[i] = 1.0;
    while (csv->lines.number + 1 < csv->first_line) {
        const char *line = lds_lines_next(&csv->lines);
        bool last = csv->lines.number + 1 == csv->first_line;
        enum lds_status status = line ? header_units(csv, line, last, error) : line_trouble(csv, error);
        if (status || !line)
            return status;
    }
    return LDS_OK;
}

static enum lds_status bad_value(const struct csv *csv, int column, double value, struct lds_error *error)
{
    char what[32] = "the time", text[64];
    if (column > 0)
        snprintf(what, sizeof what, "channel %d", column);
    return lds_fail(error, LDS_BAD_INPUT,
                    "%s: line %" PRId64 " (frame %" PRId64 "): %s is %s; every value must be a finite "
                    "number below 1e30: the input may have been overdriven, export or record it again",
                    csv->name, csv->lines.number, csv->rows, what, lds_finite_fault(value, text, sizeof text));
}

static enum lds_status no_room(const struct csv *csv, struct lds_error *error)
{
    return lds_fail(error, LDS_IO, "cannot keep the samples of %s in %s: %s; set TMPDIR to a folder with room",
                    csv->name, lds_spool_folder(), strerror(errno));
}

static enum lds_status write_row(struct csv *csv, const struct lds_cell *cell, struct lds_error *error)
{
    double volts[COLUMNS_MAX];
    struct lds_instant instant = {cell[0].value * csv->scale[0], cell[0].quantum * csv->scale[0]};
    for (int i = 0; i < csv->columns; i++)
        if (!lds_finite_is_sample(cell[i].value))
            return bad_value(csv, i, cell[i].value, error);
    for (int i = 1; i < csv->columns; i++)
        volts[i - 1] = cell[i].value * csv->scale[i];
    size_t channels = (size_t)csv->columns - 1;
    if (fwrite(&instant, sizeof instant, 1, csv->times) != 1 ||
        fwrite(volts, sizeof *volts, channels, csv->volts) != channels)
        return no_room(csv, error);
    csv->rows++;
    return LDS_OK;
}

static enum lds_status decimal_commas(const struct csv *csv, struct lds_error *error)
{
    return lds_fail(error, LDS_BAD_INPUT,
                    "%s: line %" PRId64 " has decimal commas, and commas between its columns too; decimal points, or "
                    "semicolons between columns, were expected: export it that way",
                    csv->name, csv->first_line);
}

static bool is_blank(const char *line)
{
    return line[strspn(line, " \t,;\v\f")] == '\0';
}

static enum lds_status read_rows(struct csv *csv, struct lds_error *error)
{
    struct lds_cell cell[LDS_CELLS_MAX];
    char *line;
    while ((line = lds_lines_next(&csv->lines))) {
        int cells = lds_row_read(line, csv->separator, cell);
        if (cells == 0 && is_blank(line))
            continue;
        if (cells != csv->columns)
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s: line %" PRId64 " is not a row of %d numbers like line %" PRId64
                            ": the file is damaged or cut short, export it again",
                            csv->name, csv->lines.number, csv->columns, csv->first_line);
        lds_decimal_commas_row(&csv->commas, line);
        enum lds_status status = write_row(csv, cell, error);
        if (status)
            return status;
    }
    enum lds_status status = line_trouble(csv, error);
    return !status && csv->commas.possible && csv->commas.shown ? decimal_commas(csv, error) : status;
}

static enum lds_status new_stream(FILE **stream, struct lds_error *error)
{
    int fd;
    enum lds_status status = lds_spool_new(&fd, error);
    if (status)
        return status;
    *stream = fdopen(fd, "w+b");
    if (!*stream) {
        close(fd);
        return lds_fail_memory(error, "a temporary file");
    }
    return LDS_OK;
}

static enum lds_status read_file(struct csv *csv, int fd, struct lds_error *error)
{
    lds_lines_start(&csv->lines, fd);
    enum lds_status status = find_rows(csv, error);
    if (status)
        return status;
    /* Now that the separator is known, the header is read again. */
    if (lseek(fd, 0, SEEK_SET) != 0)
        return lds_fail(error, LDS_IO, "%s: cannot be read: %s", csv->name, strerror(errno));
    lds_lines_start(&csv->lines, fd);
    status = read_header(csv, error);
    if (!status)
        status = new_stream(&csv->times, error);
    if (!status)
        status = new_stream(&csv->volts, error);
    if (!status)
        status = read_rows(csv, error);
    if (!status && (fflush(csv->times) != 0 || fflush(csv->volts) != 0))
        status = no_room(csv, error);
    return status;
}

static enum lds_status check_times(const struct csv *csv, double *rate_hz, struct lds_error *error)
{
    struct lds_steady steady;
    if (csv->rows < 2)
        return lds_fail(error, LDS_BAD_INPUT, "%s: holds one frame; a capture needs at least 0.2 s: record again",
                        csv->name);
    int failed = lds_steady_check(fileno(csv->times), csv->rows, &steady);
    if (failed)
        return lds_fail(error, LDS_IO, "the temporary copy of %s cannot be read: %s", csv->name, strerror(failed));
    if (steady.unsteady_row >= 0 && isfinite(steady.found_s))
        return lds_fail(
            error, LDS_BAD_INPUT,
            "%s: the time column is not steady: frame %" PRId64 " comes %.6g s after the one "
            "before, where steps are %.6g s; samples at a constant rate were expected: export without gaps or "
            "thinning",
            csv->name, steady.unsteady_row, steady.found_s, steady.expected_s);
    if (steady.unsteady_row >= 0)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: the time column is not steady: frame %" PRId64 " is off the line through all "
                        "times; samples at a constant rate were expected: export without gaps or thinning",
                        csv->name, steady.unsteady_row);
    *rate_hz = steady.rate_hz;
    return LDS_OK;
}

static enum lds_status adopt_volts(struct csv *csv, struct lds_source *source, struct lds_capture *capture,
                                   struct lds_error *error)
{
    double rate_hz = NAN;
    enum lds_status status = check_times(csv, &rate_hz, error);
    if (status)
        return status;
    struct lds_source volts = {.name = source->name, .fd = dup(fileno(csv->volts))};
    if (volts.fd < 0)
        return lds_fail(error, LDS_IO, "%s: %s", source->name, strerror(errno));
    close(source->fd);
    source->fd = volts.fd;
    status = lds_doubles_open(&volts, csv->columns - 1, rate_hz, capture, error);
    capture->info.in_volts = true;
    snprintf(capture->info.format, sizeof capture->info.format, "CSV");
    return status;
}

enum lds_status lds_csv_look(const struct lds_source *source, struct lds_error *error)
{
    struct csv *csv = calloc(1, sizeof *csv);
    if (!csv)
        return lds_fail_memory(error, "a table of samples");
    csv->name = source->name;
    lds_lines_start(&csv->lines, source->fd);
    enum lds_status status = find_rows(csv, error);
    free(csv);
    return status;
}

enum lds_status lds_csv_open(struct lds_source *source, struct lds_capture *capture, struct lds_error *error)
{
    struct csv *csv = calloc(1, sizeof *csv);
    if (!csv)
        return lds_fail_memory(error, "a table of samples");
    csv->name = source->name;
    enum lds_status status = read_file(csv, source->fd, error);
    if (!status)
        status = adopt_volts(csv, source, capture, error);
    if (csv->times)
        fclose(csv->times);
    if (csv->volts)
        fclose(csv->volts);
    free(csv);
    return status;
}
