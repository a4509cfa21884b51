/* One picture: its data, its script, and running gnuplot on them. */
#include "report/plot.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "fail.h"
#include "report/figures.h"
#include "safe_text.h"
#include "whole_file.h"

enum { CAPTION_COLUMNS = 110 };

void lds_plot_string(FILE *out, const char *text, int columns)
{
    char *safe = lds_words_escape(text);
    fputc('\'', out);
    size_t bytes;
    for (const char *c = safe ? safe : ""; *c; c += bytes) {
        lds_utf8_next(c, &bytes);
        if (--columns < 0) {
            fputs("…", out);
            break;
        }
        if (*c == '\'')
            fputs("' . \"'\" . '", out);
        else
            fwrite(c, 1, bytes, out);
    }
    fputc('\'', out);
    free(safe);
}

void lds_plot_number(FILE *out, double number)
{
    if (isfinite(number))
        fprintf(out, "%.9g", number);
    else
        fputs("NaN", out);
}

void lds_plot_numbers(FILE *out, const double *number, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        lds_plot_number(out, number[i]);
        fputc(i + 1 < count ? ' ' : '\n', out);
    }
}

void lds_plot_block_end(FILE *out, size_t written, const char *unknowns)
{
    if (written == 0)
        fprintf(out, "%s\n", unknowns);
}

void lds_plot_curve(struct lds_plot_sheet *sheet, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fputs(sheet->curves++ > 0 ? ", " : "plot ", sheet->script);
    vfprintf(sheet->script, format, args);
    va_end(args);
}

const char *lds_plot_base_name(const char *path)
{
    const char *slash = path ? strrchr(path, '/') : NULL;
    return slash ? slash + 1 : path ? path : "";
}

const char *lds_plot_prefix(double largest, double *factor)
{
    static const char *const prefixes[] = {"", "m", "µ", "n", "p"};
    int step = 0;
    *factor = 1.0;
    while (step < 4 && largest > 0.0 && largest * *factor < 1.0) {
        *factor *= 1000.0;
        step++;
    }
    return prefixes[step];
}

static int height_of(const struct lds_plot_page *page)
{
    return page->low ? 600 : 640;
}

/* base: "STEM-NAME", the start of the names of all its files. */
static void write_frame(FILE *out, const struct lds_plot_page *page, const char *base)
{
    fprintf(
        out,
        "# Draws %s. Run it with gnuplot in the folder where it stands.\n"
        "reset\n"
        "set encoding utf8\n"
        "set lmargin at screen 0.115\n"
        "set rmargin at screen 0.97\n"
        "set tmargin at screen 0.83\n"
        "set bmargin at screen %.4f\n"
        "set border 3 linecolor rgb 'black'\n"
        "set tics nomirror out\n"
        "set xlabel offset 0,0.6\n"
        "set grid linecolor rgb '#dddddd' linetype 1 linewidth 0.5\n"
        "set key at screen 0.02, screen %.4f left top vertical maxrows 3 Left reverse noenhanced width 1 samplen 3\n"
        "set label 1 '%s' at screen 0.03, screen 0.96 left noenhanced font ',20'\n"
        "set label 2 ",
        base, 168.0 / height_of(page), 82.0 / height_of(page), page->title);
    lds_plot_string(out, page->subject, CAPTION_COLUMNS - 15);
    fprintf(out, " . '%s' at screen 0.03, screen 0.92 left noenhanced\nset label 3 ", page->tail);
    lds_plot_string(out, page->conditions, CAPTION_COLUMNS);
    fprintf(out,
            " at screen 0.03, screen 0.885 left noenhanced\n"
            "mark = 0.5\n" /* the same pointsize is twice as large in SVG */
            "set terminal svg size 960,%d font 'sans,17' background rgb 'white' noenhanced\n"
            "set output '%s.svg'\n",
            height_of(page), base);
}

/* The plot command ends without a new line, so another terminal only needs a replot. */
static void write_pictures(FILE *out, const struct lds_plot_page *page, const char *base, unsigned options)
{
    fprintf(out,
            "\nif (!exists('svg_only')) {\n"
            "set output '%s.png'\n"
            "mark = 1\n"
            "set terminal pngcairo size 1200,%d font 'sans,16' background rgb 'white' noenhanced\n"
            "replot\n",
            base, height_of(page) * 5 / 4);
    if (options & LDS_PLOT_PDF)
        fprintf(out,
                "set output '%s.pdf'\n"
                "set terminal pdfcairo size 17.4cm,%.2fcm font 'sans,8.7' noenhanced\n"
                "replot\n",
                base, 17.4 * height_of(page) / 960.0);
    fputs("}\nunset output\n", out);
}

static char *join(const char *folder, const char *base, const char *suffix)
{
    char *path = NULL;
    if (asprintf(&path, "%s%s%s.%s", folder ? folder : "", folder ? "/" : "", base, suffix) < 0)
        return NULL;
    return path;
}

static enum lds_status open_file(struct lds_whole_file *file, struct lds_plot_place *place, const char *base,
                                 const char *suffix)
{
    char *path = join(place->folder, base, suffix);
    enum lds_status status =
        path ? lds_whole_file_open(file, path, place->error) : lds_fail_memory(place->error, "the plots");
    free(path);
    return status;
}

static enum lds_status write_files(struct lds_plot_place *place, const struct lds_plot_page *page, const char *base)
{
    struct lds_whole_file data, script;
    char *name = join(NULL, base, "dat");
    enum lds_status status = name ? open_file(&data, place, base, "dat") : lds_fail_memory(place->error, "the plots");
    if (status == LDS_OK && (status = open_file(&script, place, base, "gp")) != LDS_OK)
        lds_whole_file_abandon(&data);
    if (status == LDS_OK) {
        struct lds_plot_sheet sheet = {.data = data.out, .script = script.out, .file = name};
        fprintf(data.out, "# %s\n", page->title);
        write_frame(script.out, page, base);
        page->draw(&sheet, page->context);
        write_pictures(script.out, page, base, place->options);
        status = lds_whole_file_commit(&data, place->error);
        if (status == LDS_OK)
            status = lds_whole_file_commit(&script, place->error);
        else
            lds_whole_file_abandon(&script);
    }
    free(name);
    return status;
}

/* Removes pictures that were only half drawn. */
static void remove_pictures(const char *folder, const char *base)
{
    static const char *const suffixes[] = {"png", "svg", "pdf"};
    for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
        char *path = join(folder, base, suffixes[i]);
        if (path)
            unlink(path);
        free(path);
    }
}

/* Whether these bytes are among the last of the file. */
static bool ends_with(const char *path, const char *end, size_t bytes)
{
    enum { LOOK = 32 };
    char tail[LOOK];
    FILE *in = fopen(path, "re");
    size_t got = in && fseek(in, -LOOK, SEEK_END) == 0 ? fread(tail, 1, LOOK, in) : 0;
    if (in)
        fclose(in);
    return got == LOOK && memmem(tail, got, end, bytes) != NULL;
}

/* gnuplot does not report a full disk, so this looks whether the pictures are complete: PNG ends with the chunk IEND
 * (ISO/IEC 15948), SVG with its closing tag. */
static bool is_whole(struct lds_plot_place *place, const char *base)
{
    static const char png[] = "IEND\xAE\x42\x60\x82", svg[] = "</svg>";
    char *one = join(place->folder, base, "png"), *other = join(place->folder, base, "svg");
    bool whole = one && other && ends_with(other, svg, 6) && (place->options & LDS_PLOT_PAGE || ends_with(one, png, 8));
    free(one);
    free(other);
    return whole;
}

/* Says which script failed: the first without all of its pictures. */
static enum lds_status check_pictures(struct lds_plot_place *place, int state)
{
    size_t failed = 0;
    while (failed < place->queued && is_whole(place, place->base[failed]))
        failed++;
    if (state != 0)
        return lds_fail(
            place->error, LDS_IO,
            "gnuplot failed on %s.gp (%s %d): see whether \"gnuplot --version\" works, and mend or remove it",
            place->base[failed < place->queued ? failed : 0], WIFSIGNALED(state) ? "signal" : "exit status",
            WIFSIGNALED(state) ? WTERMSIG(state) : WEXITSTATUS(state));
    if (failed < place->queued)
        return lds_fail(place->error, LDS_IO,
                        "gnuplot left half of a picture of %s.gp: free some space, or choose another place",
                        place->base[failed]);
    return LDS_OK;
}

static enum lds_status run_queue(struct lds_plot_place *place)
{
    char *script[LDS_PLOT_BATCH] = {NULL};
    bool ran = false, enough = true;
    int state = 0;
    for (size_t i = 0; i < place->queued; i++)
        enough = (script[i] = join(NULL, place->base[i], "gp")) != NULL && enough;
    enum lds_status status = enough
                                 ? lds_gnuplot_run(place->folder, place->options & LDS_PLOT_PAGE ? "svg_only = 1" : "",
                                                   script, place->queued, &ran, &state, place->error)
                                 : lds_fail_memory(place->error, "the plots");
    if (status == LDS_OK && ran)
        status = check_pictures(place, state);
    else if (status == LDS_OK)
        *place->drawn = 0;
    for (size_t i = 0; i < place->queued; i++)
        free(script[i]);
    return status;
}

/* Draws what is queued, unless something failed before or there is no gnuplot. */
static enum lds_status empty_queue(struct lds_plot_place *place, enum lds_status status)
{
    bool draws = status == LDS_OK && *place->drawn && place->queued > 0;
    if (draws)
        status = run_queue(place);
    for (size_t i = 0; i < place->queued; i++) {
        if (draws && status != LDS_OK)
            remove_pictures(place->folder, place->base[i]);
        free(place->base[i]);
    }
    place->queued = 0;
    return status;
}

enum lds_status lds_plot_make(struct lds_plot_place *place, const struct lds_plot_page *page)
{
    char *base = NULL;
    if (asprintf(&base, "%s-%s", page->stem, page->name) < 0)
        return lds_fail_memory(place->error, "the plots");
    enum lds_status status = write_files(place, page, base);
    if (status != LDS_OK || place->options & LDS_PLOT_SCRIPTS || (place->options & LDS_PLOT_PAGE && !page->on_page)) {
        free(base);
        return status;
    }
    place->base[place->queued++] = base;
    return place->queued == LDS_PLOT_BATCH ? empty_queue(place, LDS_OK) : LDS_OK;
}

enum lds_status lds_plot_begin(struct lds_plot_place *place)
{
    enum lds_status status = lds_plot_folder(place->folder, place->error);
    if (status == LDS_OK && !lds_point_locale_enter(&place->locale))
        status = lds_fail_memory(place->error, "the plots");
    *place->drawn = status == LDS_OK;
    return status;
}

enum lds_status lds_plot_finish(struct lds_plot_place *place, enum lds_status status)
{
    status = empty_queue(place, status);
    if (place->locale.ours)
        lds_point_locale_leave(&place->locale);
    *place->drawn = *place->drawn && status == LDS_OK;
    return status;
}

enum lds_status lds_plot_folder(const char *folder, struct lds_error *error)
{
    struct stat there;
    if (mkdir(folder, 0777) == 0 || (errno == EEXIST && stat(folder, &there) == 0 && S_ISDIR(there.st_mode)))
        return LDS_OK;
    int reason = errno;
    char *name = lds_words_escape(folder);
    enum lds_status status = lds_fail(error, LDS_IO, "cannot make the folder %s: %s: choose another place",
                                      name ? name : "for the plots", strerror(reason));
    free(name);
    return status;
}
