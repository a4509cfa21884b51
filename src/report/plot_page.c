/* One picture: its data, its script, and what gnuplot makes of them. */
#include "report/plot.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fail.h"
#include "report/whole_file.h"
#include "safe_text.h"

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

static void write_frame(FILE *out, const struct lds_plot_page *page)
{
    fprintf(out,
            "# Draws %s-%s. Run it with gnuplot in the folder where it stands.\n"
            "reset\n"
            "set encoding utf8\n"
            "set lmargin 12\n"
            "set rmargin 10\n"
            "set tmargin 7\n"
            "set border 3 linecolor rgb 'black'\n"
            "set tics nomirror out\n"
            "set grid linecolor rgb '#dddddd' linetype 1 linewidth 0.5\n"
            "set bmargin 7\n"
            "set key at graph 0, screen 0.07 left top horizontal Left reverse noenhanced\n"
            "set label 1 '%s' at graph 0, screen 0.96 left noenhanced font ',15'\n"
            "set label 2 ",
            page->stem, page->name, page->title);
    lds_plot_string(out, page->subject, CAPTION_COLUMNS - 15);
    fprintf(out, " . '%s' at graph 0, screen 0.92 left noenhanced\nset label 3 ", page->tail);
    lds_plot_string(out, page->conditions, CAPTION_COLUMNS);
    fputs(" at graph 0, screen 0.885 left noenhanced\n", out);
}

/* The plot command is the script's last line, so that another terminal needs a replot alone. */
static void write_pictures(FILE *out, const struct lds_plot_page *page, unsigned options)
{
    fprintf(out,
            "set output '%s-%s.svg'\n"
            "set terminal svg size 960,640 font 'sans,15' background rgb 'white' noenhanced\n"
            "replot\n",
            page->stem, page->name);
    if (options & LDS_PLOT_PDF)
        fprintf(out,
                "set output '%s-%s.pdf'\n"
                "set terminal pdfcairo size 24cm,16cm font 'sans,11' noenhanced\n"
                "replot\n",
                page->stem, page->name);
    fputs("unset output\n", out);
}

static char *join(const char *folder, const char *stem, const char *name, const char *suffix)
{
    char *path = NULL;
    if (asprintf(&path, "%s%s%s-%s.%s", folder ? folder : "", folder ? "/" : "", stem, name, suffix) < 0)
        return NULL;
    return path;
}

static enum lds_status write_data_file(const struct lds_plot_page *page, struct lds_error *error)
{
    char *path = join(page->folder, page->stem, page->name, "dat");
    if (!path)
        return lds_fail_memory(error, "the plots");
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    free(path);
    if (status != LDS_OK)
        return status;
    fprintf(file.out, "# %s\n", page->title);
    page->write_data(file.out, page->context);
    return lds_whole_file_commit(&file, error);
}

static enum lds_status write_script_file(const struct lds_plot_page *page, unsigned options, struct lds_error *error)
{
    char *path = join(page->folder, page->stem, page->name, "gp"), *data = join(NULL, page->stem, page->name, "dat");
    if (!path || !data) {
        free(path);
        free(data);
        return lds_fail_memory(error, "the plots");
    }
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    free(path);
    if (status != LDS_OK) {
        free(data);
        return status;
    }
    write_frame(file.out, page);
    fprintf(file.out,
            "set terminal pngcairo size 1200,800 font 'sans,12' background rgb 'white' noenhanced\n"
            "set output '%s-%s.png'\n",
            page->stem, page->name);
    page->write_script(file.out, data, page->context);
    free(data);
    write_pictures(file.out, page, options);
    return lds_whole_file_commit(&file, error);
}

/* Half-drawn pictures do not stay. */
static void remove_pictures(const struct lds_plot_page *page)
{
    static const char *const suffixes[] = {"png", "svg", "pdf"};
    for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
        char *path = join(page->folder, page->stem, page->name, suffixes[i]);
        if (path)
            unlink(path);
        free(path);
    }
}

/* Whether these bytes stand among the last of the file. */
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

/* gnuplot does not tell of a full disk: whether the pictures end as theirs do, PNG with the chunk IEND (ISO/IEC 15948)
 * and SVG with the end of its root. */
static bool is_whole(const struct lds_plot_page *page)
{
    static const char png[] = "IEND\xAE\x42\x60\x82", svg[] = "</svg>";
    char *one = join(page->folder, page->stem, page->name, "png"),
         *other = join(page->folder, page->stem, page->name, "svg");
    bool whole = one && other && ends_with(one, png, 8) && ends_with(other, svg, 6);
    free(one);
    free(other);
    return whole;
}

static enum lds_status draw(const struct lds_plot_page *page, int *drawn, struct lds_error *error)
{
    char *script = join(NULL, page->stem, page->name, "gp");
    if (!script)
        return lds_fail_memory(error, "the plots");
    bool ran = false;
    enum lds_status status = lds_gnuplot_run(page->folder, script, &ran, error);
    if (status == LDS_OK && ran && !is_whole(page))
        status = lds_fail(error, LDS_IO,
                          "gnuplot left half of a picture of %s: free some space, or choose another place", script);
    if (status != LDS_OK)
        remove_pictures(page);
    else if (!ran)
        *drawn = 0;
    free(script);
    return status;
}

enum lds_status lds_plot_make(const struct lds_plot_page *page, unsigned options, int *drawn, struct lds_error *error)
{
    enum lds_status status = write_data_file(page, error);
    if (status == LDS_OK)
        status = write_script_file(page, options, error);
    if (status == LDS_OK && *drawn)
        status = draw(page, drawn, error);
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
