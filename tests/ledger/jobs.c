#include "ledger/jobs.h"

#include <dirent.h>
#include <inttypes.h>
#include <math.h>
#include <nettle/sha2.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "compare/made.h"
#include "record/record.h"

static void hex_sum(const void *bytes, size_t size, char sum[65])
{
    struct sha256_ctx context;
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_init(&context);
    sha256_update(&context, size, bytes);
    sha256_digest(&context, sizeof digest, digest);
    for (size_t i = 0; i < sizeof digest; i++)
        snprintf(sum + 2 * i, 3, "%02x", digest[i]);
}

static void add_figures(struct lds_measurement *m, const struct lds_role *role, double db)
{
    double times = pow(10.0, db / 20.0);
    for (size_t c = 1; c <= 2; c++) {
        double more = c == 2 ? 1.1 * times : times;
        if (role->holds == LDS_SIGNAL_SILENCE) {
            struct lds_figure *band = made_in(m, c, "noise.band.20-20k", 100e-6 * more, 1e-7 * more);
            band->band_hz[0] = 20.0;
            band->band_hz[1] = 20e3;
            made_in(m, c, "mains.total", 50e-6 * more, 1e-7 * more);
        } else {
            made_in(m, c, "tone.power", 10.0, 0.01);
            struct lds_figure *thd = made_in(m, c, "thd", -80.0 + db + (double)c, 0.1);
            thd->orders[0] = 2;
            thd->orders[1] = 19;
        }
    }
    m->pairs = role->tone ? 1 : 0;
    m->pair = m->pairs ? calloc(1, sizeof *m->pair) : NULL;
    if (m->pairs) {
        m->pair->channels[0] = 1;
        m->pair->channels[1] = 2;
        struct lds_figure *crosstalk = lds_pair_add(m->pair, "crosstalk", true);
        crosstalk->value = -70.0 + db;
        crosstalk->low = crosstalk->value - 0.5;
        crosstalk->high = crosstalk->value + 0.5;
    }
}

void make_job(struct made_job *made, const char *serial, const char *date, double more_db)
{
    static char none[] = "", thistlecote[] = "Thistlecote", sedge[] = "Sedge 25", hall[] = "the village hall",
                work[] = "earth wiring, snubbers", part[] = "C7", before[] = "10 nF", after[] = "22 nF";
    static const char *const files[JOB_CAPTURES] = {"idle-before.wav", "idle-after.wav", "ten-before.wav",
                                                    "ten-after.wav", "chain.wav"};
    *made = (struct made_job){.sheet = {.path = none,
                                        .make = thistlecote,
                                        .type = sedge,
                                        .serial = serial ? strdup(serial) : NULL,
                                        .client = hall,
                                        .work = work,
                                        .parts = 1,
                                        .captures = JOB_CAPTURES}};
    made->part[0] = (struct lds_part){part, before, after};
    made->sheet.part = made->part;
    made->sheet.capture = made->capture;
    made->job.sheet = &made->sheet;
    made->job.measurement = made->measurement;
    made->job.files = JOB_CAPTURES;
    made->job.file = made->file;
    snprintf(made->job.date, sizeof made->job.date, "%s", date);
    for (int i = 0; i < JOB_CAPTURES; i++) {
        char seed[256];
        const struct lds_role *role = lds_role_find(i < 2 ? "idle" : i < 4 ? "sine" : "chain");
        enum lds_when when = i == 4 ? LDS_WHEN_ANY : i % 2 ? LDS_WHEN_AFTER : LDS_WHEN_BEFORE;
        made->capture[i] = (struct lds_sheet_capture){.name = strdup(files[i]),
                                                      .file = strdup(files[i]),
                                                      .role = role,
                                                      .when = when,
                                                      .power_w = role->tone ? 10.0 : (double)NAN,
                                                      .frequency_hz = NAN,
                                                      .repeat = 1};
        made_capture(&made->measurement[i], files[i], 2);
        double less = when == LDS_WHEN_AFTER ? (role->holds == LDS_SIGNAL_SILENCE ? -12.0 : -10.0) : 0.0;
        add_figures(&made->measurement[i], role, more_db + less);
        snprintf(seed, sizeof seed, "%s %s %.9g %d", serial ? serial : "", date, more_db, i);
        made->file[i].file = strdup(files[i]);
        hex_sum(seed, strlen(seed), made->file[i].sha256);
    }
}

void name_channel(struct lds_measurement *m, int channel, const char *name)
{
    free(m->channel[channel - 1].name);
    m->channel[channel - 1].name = name ? strdup(name) : NULL;
}

void free_job(struct made_job *made)
{
    free(made->sheet.serial);
    for (int i = 0; i < JOB_CAPTURES; i++) {
        free(made->capture[i].name);
        free(made->capture[i].file);
        free(made->file[i].file);
        lds_measurement_free(&made->measurement[i]);
    }
}

static void print_text(FILE *out, const char *text)
{
    fprintf(out, "[%s]", text ? text : "NULL");
}

static void print_job(FILE *out, const struct lds_ledger_job *job)
{
    print_text(out, job->date);
    print_text(out, job->client);
    print_text(out, job->work);
    print_text(out, job->program);
    for (size_t i = 0; i < job->parts; i++) {
        print_text(out, job->part[i].name);
        print_text(out, job->part[i].before);
        print_text(out, job->part[i].after);
    }
    for (size_t i = 0; i < job->captures; i++) {
        const struct lds_ledger_capture *c = &job->capture[i];
        print_text(out, c->name);
        print_text(out, c->file);
        print_text(out, c->note);
        fprintf(out, "%s %s %s %.17g %d %d %.17g %.17g %.17g\n", c->sha256, c->role->name, lds_when_name(c->when),
                c->power_w, c->channel, c->repeat, c->seconds, c->rate_hz, c->load_ohm);
    }
}

static void print_history(FILE *out, const struct lds_ledger_history *history)
{
    for (size_t i = 0; i < history->jobs; i++)
        print_job(out, &history->job[i]);
    fprintf(out, "population %zu, unnamed %zu\n", history->population, history->unnamed);
    for (size_t i = 0; i < history->series; i++) {
        const struct lds_ledger_series *s = &history->serie[i];
        const struct lds_ledger_standing *p = &s->standing;
        fprintf(out, "%s %s %s %.17g %.17g %d %d %.17g %.17g %d %d %d\n", s->key, s->unit, s->role->name, s->power_w,
                s->load_ohm, s->channel, s->other, s->band_hz[0], s->band_hz[1], s->orders[0], s->orders[1], s->main);
        for (size_t k = 0; k < s->points; k++)
            fprintf(out, "  %zu %s %zu %.17g %.17g %.17g %x\n", s->point[k].job, lds_when_name(s->point[k].when),
                    s->point[k].captures, s->point[k].value, s->point[k].low, s->point[k].high, s->point[k].flags);
        fprintf(out, "  %zu %.17g %zu %zu %zu %zu %.17g %.17g\n", p->units, p->value, p->lower, p->higher, p->alike,
                p->known, p->median, p->spread);
    }
}

char *read_all_of(const char *path, struct lds_error *error)
{
    struct lds_ledger *ledger;
    struct lds_ledger_unit *unit = NULL;
    size_t units = 0, size = 0;
    char *text = NULL;
    if (lds_ledger_open(path, LDS_LEDGER_READ_ONLY, &ledger, error) != LDS_OK)
        return NULL;
    FILE *out = open_memstream(&text, &size);
    enum lds_status status = lds_ledger_units(ledger, &unit, &units, error);
    for (size_t i = 0; status == LDS_OK && i < units; i++) {
        struct lds_ledger_history history;
        fprintf(out, "unit %zu ", unit[i].jobs);
        print_text(out, unit[i].make);
        print_text(out, unit[i].type);
        print_text(out, unit[i].serial);
        print_text(out, unit[i].first_date);
        print_text(out, unit[i].last_date);
        status = lds_ledger_history(ledger, &unit[i], &history, error);
        print_history(out, &history);
        lds_ledger_history_free(&history);
    }
    lds_ledger_units_free(unit, units);
    lds_ledger_close(ledger);
    fclose(out);
    if (status != LDS_OK) {
        free(text);
        return NULL;
    }
    return text;
}

void file_sum(const char *path, char sum[65])
{
    FILE *in = fopen(path, "rb");
    struct sha256_ctx context;
    uint8_t bytes[65536], digest[SHA256_DIGEST_SIZE];
    sum[0] = '\0';
    if (!in)
        return;
    sha256_init(&context);
    for (size_t got; (got = fread(bytes, 1, sizeof bytes, in)) > 0;)
        sha256_update(&context, got, bytes);
    fclose(in);
    sha256_digest(&context, sizeof digest, digest);
    for (size_t i = 0; i < sizeof digest; i++)
        snprintf(sum + 2 * i, 3, "%02x", digest[i]);
}

char *ledger_folder(void)
{
    char *folder = strdup("/tmp/loadside-ledger-XXXXXX");
    if (!mkdtemp(folder))
        abort();
    return folder;
}

char *path_in(const char *folder, const char *name)
{
    char *path = NULL;
    if (asprintf(&path, "%s/%s", folder, name) < 0)
        abort();
    return path;
}

void remove_folder(char *folder)
{
    DIR *dir = opendir(folder);
    for (struct dirent *entry; dir && (entry = readdir(dir));) {
        char *path = path_in(folder, entry->d_name);
        unlink(path);
        free(path);
    }
    if (dir)
        closedir(dir);
    rmdir(folder);
    free(folder);
}

static long now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (long)now.tv_sec * 1000000000L + now.tv_nsec;
}

void run_and_kill(void (*work)(const void *context), const void *context, long *takes_ns)
{
    long began = now_ns();
    int state;
    pid_t child = fork();
    if (child < 0)
        abort();
    if (child == 0) {
        work(context);
        _exit(0);
    }
    if (*takes_ns > 0) {
        long wait = (long)(1.6 * (double)*takes_ns * (double)rand() / RAND_MAX);
        struct timespec time = {.tv_sec = wait / 1000000000L, .tv_nsec = wait % 1000000000L};
        nanosleep(&time, NULL);
        kill(child, SIGKILL);
    }
    waitpid(child, &state, 0);
    if (*takes_ns == 0)
        *takes_ns = now_ns() - began;
    if (!WIFSIGNALED(state) && WEXITSTATUS(state) != 0)
        abort();
}
