#include "progress.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#include "say.h"

static const double quiet_s = 0.5;   /* shorter work shows nothing */
static const double between_s = 0.1; /* between two updates */

static double monotonic_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

void progress_start(struct progress *progress, bool wanted, const char *name)
{
    *progress = (struct progress){.out = wanted && isatty(STDERR_FILENO) ? stderr : NULL,
                                  .now_s = monotonic_s,
                                  .start_s = monotonic_s(),
                                  .shown_s = NAN};
    const char *slash = strrchr(name, '/');
    say_escaped(slash ? slash + 1 : name, progress->name, sizeof progress->name);
}

/* How long a line may be: the terminal's last column stays free. */
static size_t columns_of(FILE *out)
{
    struct winsize size;
    if (ioctl(fileno(out), TIOCGWINSZ, &size) != 0 || size.ws_col == 0)
        return 79;
    return size.ws_col > 1 ? size.ws_col - 1u : 1;
}

/* Cuts the line to `columns` characters of UTF-8 and returns how many it has: a wrapped line could not be erased. */
static size_t cut_line(char *line, size_t columns)
{
    size_t width = 0;
    for (char *p = line; *p; p++) {
        if (((unsigned char)*p & 0xc0) == 0x80)
            continue;
        if (width == columns) {
            *p = '\0';
            break;
        }
        width++;
    }
    return width;
}

/* "3 s", "2 min 05 s", "1 h 10 min". */
static void format_time(double seconds, char *text, size_t size)
{
    const double whole = ceil(seconds), minutes = floor(whole / 60.0);
    if (whole < 60.0)
        snprintf(text, size, "%.0f s", whole);
    else if (minutes < 60.0)
        snprintf(text, size, "%.0f min %02.0f s", minutes, whole - 60.0 * minutes);
    else
        snprintf(text, size, "%.0f h %02.0f min", floor(minutes / 60.0), fmod(minutes, 60.0));
}

static void erase(struct progress *progress)
{
    if (progress->width)
        fprintf(progress->out, "\r%*s\r", (int)progress->width, "");
    progress->width = 0;
}

/* "a.wav: measuring, 42 %, 3 s left". */
static void format_line(const char *name, const char *doing, double fraction, double elapsed_s, char *line, size_t size)
{
    char left[48] = "";
    if (fraction > 0.0 && fraction <= 1.0) {
        char time[32];
        format_time(elapsed_s * (1.0 - fraction) / fraction, time, sizeof time);
        snprintf(left, sizeof left, ", %.0f %%, %s left", floor(100.0 * fraction), time);
    }
    snprintf(line, size, "%s: %s%s", name, doing, left);
}

void progress_show(void *context, const char *doing, double fraction)
{
    struct progress *progress = context;
    if (!progress->out)
        return;
    const double now_s = progress->now_s(), elapsed_s = now_s - progress->start_s;
    if (elapsed_s < quiet_s || now_s - progress->shown_s < between_s) /* never shown: NAN, and the comparison is
                                                                       * false */
        return;
    char line[512];
    format_line(progress->name, doing, fraction, elapsed_s, line, sizeof line);
    erase(progress);
    progress->width = cut_line(line, columns_of(progress->out));
    fputs(line, progress->out);
    fflush(progress->out);
    progress->shown_s = now_s;
}

void progress_end(struct progress *progress)
{
    if (progress->out && progress->width) {
        erase(progress);
        fflush(progress->out);
    }
}

/* ---- several at once ---- */

bool progress_many_start(struct progress_many *many, bool wanted, size_t count)
{
    *many = (struct progress_many){.out = wanted && isatty(STDERR_FILENO) ? stderr : NULL,
                                   .now_s = monotonic_s,
                                   .start_s = monotonic_s(),
                                   .shown_s = NAN,
                                   .count = count,
                                   .one = calloc(count + 1, sizeof *many->one)};
    return many->one != NULL;
}

void progress_many_name(struct progress_many *many, size_t place, const char *name)
{
    say_escaped(name, many->one[place].name, sizeof many->one[place].name);
}

/* Moves back to the first of the lines shown (ECMA-48: cursor up). */
static void go_up(struct progress_many *many)
{
    if (many->lines > 1)
        fprintf(many->out, "\033[%zuA", many->lines - 1);
    fputc('\r', many->out);
}

static void draw(struct progress_many *many, double now_s)
{
    const size_t columns = columns_of(many->out);
    size_t lines = 0, done = 0;
    char line[512];
    if (many->lines > 0)
        go_up(many);
    for (size_t i = 0; i < many->count; i++) {
        const struct progress_one *one = &many->one[i];
        done += one->begun && one->fraction >= 1.0;
        if (!one->begun || one->fraction >= 1.0)
            continue;
        format_line(one->name, one->doing, one->fraction, now_s - one->start_s, line, sizeof line);
        cut_line(line, columns);
        fprintf(many->out, "%s\033[K\n", line); /* erase to the end of the line */
        lines++;
    }
    snprintf(line, sizeof line, "%zu of %zu captures done", done, many->count);
    cut_line(line, columns);
    fprintf(many->out, "%s\033[K\033[J", line); /* to the end of the screen: there may be fewer lines than before */
    fflush(many->out);
    many->lines = lines + 1;
    many->shown_s = now_s;
}

void progress_many_show(void *context, size_t place, const char *doing, double fraction)
{
    struct progress_many *many = context;
    const double now_s = many->now_s();
    if (!many->out || place >= many->count)
        return;
    struct progress_one *one = &many->one[place];
    if (!one->begun)
        one->start_s = now_s;
    one->begun = true;
    one->doing = doing;
    one->fraction = fraction;
    if (now_s - many->start_s >= quiet_s && !(now_s - many->shown_s < between_s))
        draw(many, now_s);
}

void progress_many_end(struct progress_many *many)
{
    if (many->out && many->lines) {
        go_up(many);
        fputs("\033[J", many->out);
        fflush(many->out);
    }
    free(many->one);
    *many = (struct progress_many){0};
}
