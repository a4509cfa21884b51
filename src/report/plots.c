/* Pictures of every channel: data, scripts that run by themselves, and what gnuplot makes of them. */
#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fail.h"
#include "report/figures.h"
#include "report/plot.h"
#include "report/reading.h"
#include "report/text.h"
#include "report/whole_file.h"
#include "report/words.h"

enum { STEM_LONGEST = 100, CAPTION_COLUMNS = 110 };

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

const char *lds_plot_prefix(const struct lds_curve *curve, double *factor)
{
    static const char *const prefixes[] = {"", "m", "µ", "n", "p"};
    double largest = 0.0;
    for (size_t i = 0; i < curve->points; i++)
        largest = fmax(largest, fabs(curve->point[i].y));
    int step = 0;
    *factor = 1.0;
    while (step < 4 && largest > 0.0 && largest * *factor < 1.0) {
        *factor *= 1000.0;
        step++;
    }
    return prefixes[step];
}

/* The last part of the path without its suffix, and in it nothing but letters, digits, points and hyphens. */
static void make_stem(const char *file, char *stem, size_t size)
{
    const char *slash = strrchr(file, '/');
    const char *name = slash ? slash + 1 : file;
    const char *point = strrchr(name, '.');
    size_t length = point && point > name ? (size_t)(point - name) : strlen(name);
    size_t used = 0;
    for (size_t i = 0; i < length && used + 1 < size && used < STEM_LONGEST; i++) {
        unsigned char c = (unsigned char)name[i];
        bool kept = c < 0x80 && (isalnum(c) || ((c == '.' || c == '-') && used > 0));
        if (kept)
            stem[used++] = (char)c;
        else if (used > 0 && stem[used - 1] != '-')
            stem[used++] = '-';
    }
    while (used > 0 && (stem[used - 1] == '-' || stem[used - 1] == '.'))
        used--;
    stem[used] = '\0';
    if (used == 0)
        snprintf(stem, size, "capture");
}

/* Which of the captures before this one have the same stem, letters of either case taken as equal. */
static void make_unique_stem(const struct lds_measurement *measurement, size_t place, char *stem, size_t size)
{
    size_t before = 0;
    char other[STEM_LONGEST + 8];
    make_stem(measurement[place].file ? measurement[place].file : "", stem, size);
    for (size_t i = 0; i < place; i++) {
        make_stem(measurement[i].file ? measurement[i].file : "", other, sizeof other);
        before += strcasecmp(stem, other) == 0;
    }
    if (before > 0) {
        size_t length = strlen(stem);
        /* "_" is in no stem, so that "a_2" cannot be another capture's own name. */
        snprintf(stem + length, size - length, "_%zu", before + 1);
    }
}

static void write_conditions(FILE *out, const struct lds_measurement *measurement)
{
    struct lds_text_scrap scrap;
    if (!lds_text_scrap_open(&scrap))
        return;
    if (isfinite(measurement->bench.load_ohm))
        fprintf(scrap.out, "load %.4g Ω, ", measurement->bench.load_ohm);
    else
        fputs("load not stated, ", scrap.out);
    fprintf(scrap.out, "%.4g s long", measurement->seconds);
    if (measurement->averages > 0 && isfinite(measurement->window_s))
        fprintf(scrap.out, ", %d averages of %.3g s, 7-term cosine window", measurement->averages,
                measurement->window_s);
    if (measurement->date[0])
        fprintf(scrap.out, ", %s", measurement->date);
    if (fclose(scrap.out) == 0)
        lds_plot_string(out, scrap.text, CAPTION_COLUMNS);
    free(scrap.text);
}

static void write_frame(FILE *out, const struct lds_plot *plot, const struct lds_picture *picture)
{
    char channel[40];
    snprintf(channel, sizeof channel, ", channel %d", plot->channel->channel);
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
            plot->stem, picture->name, picture->title);
    const char *file = plot->measurement->file ? plot->measurement->file : "";
    const char *slash = strrchr(file, '/');
    lds_plot_string(out, slash ? slash + 1 : file, CAPTION_COLUMNS - 15);
    fprintf(out, " . '%s' at graph 0, screen 0.92 left noenhanced\nset label 3 ", channel);
    write_conditions(out, plot->measurement);
    fputs(" at graph 0, screen 0.885 left noenhanced\n", out);
}

/* The plot command is the script's last line, so that another terminal needs a replot alone. */
static void write_pictures(FILE *out, const struct lds_plot *plot, const struct lds_picture *picture, unsigned options)
{
    fprintf(out,
            "set output '%s-%s.svg'\n"
            "set terminal svg size 1200,800 font 'sans,15' background rgb 'white' noenhanced\n"
            "replot\n",
            plot->stem, picture->name);
    if (options & LDS_PLOT_PDF)
        fprintf(out,
                "set output '%s-%s.pdf'\n"
                "set terminal pdfcairo size 24cm,16cm font 'sans,11' noenhanced\n"
                "replot\n",
                plot->stem, picture->name);
    fputs("unset output\n", out);
}

static char *join(const char *folder, const char *stem, const char *name, const char *suffix)
{
    char *path = NULL;
    if (asprintf(&path, "%s%s%s-%s.%s", folder ? folder : "", folder ? "/" : "", stem, name, suffix) < 0)
        return NULL;
    return path;
}

static enum lds_status write_data_file(const struct lds_plot *plot, const struct lds_picture *picture,
                                       struct lds_error *error)
{
    char *path = join(plot->folder, plot->stem, picture->name, "dat");
    if (!path)
        return lds_fail_memory(error, "the plots");
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    free(path);
    if (status != LDS_OK)
        return status;
    char *name = lds_words_escape(plot->measurement->file ? plot->measurement->file : "");
    fprintf(file.out, "# %s\n# capture: %s\n# channel: %d\n", picture->title, name ? name : "", plot->channel->channel);
    free(name);
    picture->write_data(file.out, plot);
    return lds_whole_file_commit(&file, error);
}

static enum lds_status write_script_file(const struct lds_plot *plot, const struct lds_picture *picture,
                                         unsigned options, struct lds_error *error)
{
    char *path = join(plot->folder, plot->stem, picture->name, "gp");
    if (!path)
        return lds_fail_memory(error, "the plots");
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    free(path);
    if (status != LDS_OK)
        return status;
    write_frame(file.out, plot, picture);
    fprintf(file.out,
            "set terminal pngcairo size 1200,800 font 'sans,12' background rgb 'white' noenhanced\n"
            "set output '%s-%s.png'\n",
            plot->stem, picture->name);
    picture->write_script(file.out, plot);
    write_pictures(file.out, plot, picture, options);
    return lds_whole_file_commit(&file, error);
}

/* Half-drawn pictures do not stay. */
static void remove_pictures(const struct lds_plot *plot, const struct lds_picture *picture)
{
    static const char *const suffixes[] = {"png", "svg", "pdf"};
    for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
        char *path = join(plot->folder, plot->stem, picture->name, suffixes[i]);
        if (path)
            unlink(path);
        free(path);
    }
}

static enum lds_status draw(const struct lds_plot *plot, const struct lds_picture *picture, int *drawn,
                            struct lds_error *error)
{
    char *script = join(NULL, plot->stem, picture->name, "gp");
    if (!script)
        return lds_fail_memory(error, "the plots");
    bool ran = false;
    enum lds_status status = lds_gnuplot_run(plot->folder, script, &ran, error);
    if (status != LDS_OK)
        remove_pictures(plot, picture);
    else if (!ran)
        *drawn = 0;
    free(script);
    return status;
}

static enum lds_status plot_channel(struct lds_plot *plot, unsigned options, int *drawn, struct lds_error *error)
{
    static const struct lds_picture *const pictures[] = {
        &lds_picture_spectrum, &lds_picture_density, &lds_picture_harmonics, &lds_picture_residual, &lds_picture_mains};
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < sizeof pictures / sizeof pictures[0]; i++) {
        if (!pictures[i]->wanted(plot->channel))
            continue;
        char *data = join(NULL, plot->stem, pictures[i]->name, "dat");
        if (!data)
            return lds_fail_memory(error, "the plots");
        plot->data = data;
        status = write_data_file(plot, pictures[i], error);
        if (status == LDS_OK)
            status = write_script_file(plot, pictures[i], options, error);
        if (status == LDS_OK && *drawn)
            status = draw(plot, pictures[i], drawn, error);
        free(data);
    }
    return status;
}

static enum lds_status make_folder(const char *folder, struct lds_error *error)
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

enum lds_status lds_report_plots(const struct lds_measurement *measurement, size_t count, const char *folder,
                                 unsigned options, int *drawn, struct lds_error *error)
{
    *drawn = 0;
    enum lds_status status = make_folder(folder, error);
    if (status != LDS_OK)
        return status;
    struct lds_point_locale locale;
    if (!lds_point_locale_enter(&locale))
        return lds_fail_memory(error, "the plots");
    *drawn = 1;
    for (size_t i = 0; status == LDS_OK && i < count; i++) {
        char stem[STEM_LONGEST + 32], name[STEM_LONGEST + 64];
        make_unique_stem(measurement, i, stem, sizeof stem);
        for (size_t k = 0; status == LDS_OK && k < measurement[i].channels; k++) {
            const struct lds_channel *channel = &measurement[i].channel[k];
            snprintf(name, sizeof name, "%s-channel%d", stem, channel->channel);
            struct lds_plot plot = {&measurement[i], channel, folder, name, NULL};
            status = plot_channel(&plot, options, drawn, error);
        }
    }
    lds_point_locale_leave(&locale);
    if (status != LDS_OK)
        *drawn = 0;
    return status;
}
