#include "measure/signal/scout.h"

#include <math.h>
#include <stdio.h>

#include "measure/signal/scout_look.h"

/* Common practice, no source: what counts as the test tone of a capture. */
static const double LEAST_TONE_DBFS = -66.0; /* a little more than 60 dB below full scale */
static const double LEAST_SHARE = 0.1;       /* of everything but DC and hum */
enum { HUM_LINES = 40 };

static bool strong_enough(const struct lds_stretch *look, const struct lds_scout_line *line)
{
    return line->power >= LEAST_SHARE * look->total && lds_scout_is_line(look, line) &&
           (look->request->in_volts || lds_scout_dbfs(line->power) >= LEAST_TONE_DBFS);
}

static void say_none(struct lds_scout *scout, const struct lds_scout_line *line, const char *what)
{
    snprintf(scout->why, sizeof scout->why,
             "no tone: the strongest line, %.5g Hz, %s (state --tone to measure it all the same)", line->frequency_hz,
             what);
}

static void found(struct lds_scout *scout, const struct lds_scout_line *line)
{
    scout->tone_hz = line->frequency_hz;
    scout->level = sqrt(line->power);
    scout->tones = 1;
}

/* The strongest line, or if that is hum, the strongest other line. */
static void choose(struct lds_stretch *look, size_t low, size_t high, struct lds_scout *scout)
{
    double mains_hz = 0.0;
    struct lds_scout_line line;
    for (int hum = 0; hum <= HUM_LINES; hum++) {
        if (!lds_scout_strongest(look, low, high, &line)) {
            if (hum == 0)
                snprintf(scout->why, sizeof scout->why, "no tone: the capture is silent");
            return;
        }
        int order = 0;
        bool belongs = mains_hz > 0.0 && lds_hum_belongs(look, &line, mains_hz);
        enum lds_hum_verdict verdict = belongs ? LDS_HUM_SURE : lds_hum_judge(look, &line, &order);
        if (verdict == LDS_HUM_SURE) {
            if (hum == 0)
                say_none(scout, &line, "is taken for mains hum");
            scout->hum = true;
            mains_hz = scout->mains_hz = belongs ? mains_hz : line.frequency_hz / order;
            lds_scout_remove(look, &line);
            continue;
        }
        if (!strong_enough(look, &line)) {
            if (hum == 0)
                say_none(scout, &line, "is too weak for a test tone");
            return;
        }
        found(scout, &line);
        scout->why[0] = '\0';
        scout->hum_order = verdict == LDS_HUM_MAYBE ? order : 0;
        lds_scout_second(look, &line, mains_hz, scout);
        return;
    }
}

double lds_scout_lowest_hz(size_t n, double rate_hz)
{
    return LDS_SCOUT_LOWEST * rate_hz / (double)n;
}

/* The strongest line near the stated frequency. */
static void choose_given(struct lds_stretch *look, double given_hz, size_t high, struct lds_scout *scout)
{
    double bin = given_hz / look->bin_hz;
    size_t low = bin > LDS_SCOUT_LOWEST + 4.0 ? (size_t)bin - 4 : LDS_SCOUT_LOWEST;
    high = (size_t)bin + 4 < high ? (size_t)bin + 4 : high;
    struct lds_scout_line line;
    if (lds_scout_strongest(look, low, high, &line))
        found(scout, &line);
    else
        snprintf(scout->why, sizeof scout->why, "no tone: the capture is silent at %.5g Hz", given_hz);
}

bool lds_scout_look(const double *x, size_t n, const struct lds_scout_request *request, struct lds_scout *scout)
{
    *scout = (struct lds_scout){.tone_hz = NAN, .level = NAN, .second_hz = NAN};
    if (request->given_hz == 0.0) {
        snprintf(scout->why, sizeof scout->why, "the capture was said to hold no tone");
        return true;
    }
    struct lds_stretch look;
    bool ok = lds_scout_transform(x, n, request, &look);
    size_t high = look.bins > LDS_SCOUT_LOWEST + 1 ? look.bins - LDS_SCOUT_LOWEST - 1 : 0;
    if (ok && request->given_hz > 0.0)
        choose_given(&look, request->given_hz, high, scout);
    else if (ok)
        choose(&look, LDS_SCOUT_LOWEST, high, scout);
    lds_scout_stretch_free(&look);
    return ok;
}
