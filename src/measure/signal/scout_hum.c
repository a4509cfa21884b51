/* Is a line on a mains order hum, or a test tone? Hum is a comb: orders of the mains, in step with each other and of
 * comparable size, at the mains frequency, which is some millihertz off its nominal value; a tone made by the
 * recorder's own clock is not. A test tone has only harmonics, far weaker than itself unless it is clipped. Where
 * neither can be excluded, the answer is "maybe". The thresholds are common practice, no source. */
#include "measure/signal/scout_look.h"

#include <math.h>

static const double NOMINAL_HZ[] = {50.0, 60.0};
static const double OFF_NOMINAL = 0.01;    /* more than public mains is ever off */
static const double COMPARABLE_DB = -26.0; /* orders of hum, relative to the strongest */
static const double IN_STEP_HZ = 0.005;    /* of the mains, in addition to what noise does to the frequencies */
static const double RICH_DB = -20.0;
static const double PURE_DB = -40.0;        /* the mains itself is never this pure */
static const double CLOCKS = 150e-6;        /* two clocks of +-100 ppm are hardly ever farther apart */
static const double ABOVE_NEIGHBOURS = 100; /* of power: the line is not explained by a comb */
static const double NOT_ALONE = 0.1;        /* of power: a high order of hum has others nearly as strong */
enum { LOW_ORDERS = 4, ORDERS = 6, HIGH_ORDERS = 20, LOOKED_AT = 20, COMB_ORDERS = 60, MANY = 3 };

/* Orders of a comb other than the line that may be one of them. */
struct comb {
    int others;          /* comparable orders that are not multiples of the line's: not its harmonics */
    int multiples;       /* comparable orders that are */
    int rich, rich_even; /* multiples within RICH_DB, and the even ones among them */
    double strongest;    /* of all of them, relative to the line */
};

/* The mains of which frequency_hz would be one of the first orders; 0: none. */
static double mains_of(double frequency_hz, int *order, double *nominal_hz)
{
    for (*order = 1; *order <= HIGH_ORDERS; (*order)++)
        for (size_t i = 0; i < sizeof NOMINAL_HZ / sizeof NOMINAL_HZ[0]; i++) {
            *nominal_hz = NOMINAL_HZ[i];
            if (fabs(frequency_hz / (*order * *nominal_hz) - 1.0) < OFF_NOMINAL)
                return frequency_hz / *order;
        }
    *order = 0;
    return 0.0;
}

/* How wrong the measured frequency of a line may be. */
static double frequency_error(const struct lds_stretch *look, double power, double noise)
{
    return 0.5 * look->bin_hz * sqrt(noise / fmax(power, 1e-300));
}

static void look_for_comb(const struct lds_stretch *look, const struct lds_scout_line *line, int own, struct comb *comb)
{
    *comb = (struct comb){0};
    double mains_hz = line->frequency_hz / own;
    for (int k = 1; k <= LOOKED_AT; k++) {
        struct lds_scout_line other;
        double noise;
        if (k == own)
            continue;
        lds_scout_at(look, k * mains_hz, &other, &noise);
        double power = other.power - noise, relative_db = 10.0 * log10(fmax(1e-300, power / line->power));
        comb->strongest = fmax(comb->strongest, other.power / line->power);
        double off_hz = fabs(other.frequency_hz - k * mains_hz);
        if (!(power > 2.0 * noise) || relative_db < COMPARABLE_DB ||
            off_hz > IN_STEP_HZ * k + frequency_error(look, power, noise))
            continue;
        bool multiple = k % own == 0;
        comb->others += !multiple;
        comb->multiples += multiple;
        comb->rich += multiple && relative_db > RICH_DB;
        comb->rich_even += multiple && relative_db > RICH_DB && k / own % 2 == 0;
    }
}

enum lds_hum_verdict lds_hum_judge(const struct lds_stretch *look, const struct lds_scout_line *line, int *order)
{
    double nominal_hz, mains_hz = mains_of(line->frequency_hz, order, &nominal_hz);
    if (!(mains_hz > 0.0))
        return LDS_HUM_NOT;
    struct comb comb;
    struct lds_scout_line itself;
    double noise;
    look_for_comb(look, line, *order, &comb);
    lds_scout_at(look, line->frequency_hz, &itself, &noise);
    bool weak = !lds_scout_reaches(look, line->power, 0.1, -40.0);
    if (*order > LOW_ORDERS) {
        bool close = *order <= ORDERS || (weak && comb.strongest > NOT_ALONE);
        return comb.others >= MANY && close ? LDS_HUM_SURE : LDS_HUM_NOT;
    }
    if (comb.others > 0)
        return LDS_HUM_SURE;
    bool strong = lds_scout_reaches(look, line->power, 1.0, -20.0);
    bool exact = fabs(line->frequency_hz - *order * nominal_hz) <
                 CLOCKS * line->frequency_hz + frequency_error(look, line->power, noise);
    if (comb.multiples > 0) {
        bool rich = comb.rich >= MANY && comb.rich_even > 0 && comb.rich_even < comb.rich;
        bool much = comb.multiples >= MANY || comb.rich > 0;
        if (strong)
            return LDS_HUM_MAYBE;
        return rich || !exact || (weak && much) ? LDS_HUM_SURE : LDS_HUM_MAYBE;
    }
    bool pure = comb.strongest < pow(10.0, PURE_DB / 10.0);
    bool loud = lds_scout_reaches(look, line->power, 0.1, -20.0);
    return strong || (loud && pure) ? LDS_HUM_NOT : LDS_HUM_MAYBE;
}

bool lds_hum_belongs(const struct lds_stretch *look, const struct lds_scout_line *line, double mains_hz)
{
    double order = round(line->frequency_hz / mains_hz);
    if (order < 1.0 || order > COMB_ORDERS ||
        fabs(line->frequency_hz - order * mains_hz) > 0.01 * order + 2.0 * look->bin_hz)
        return false;
    if (order <= ORDERS)
        return true;
    double neighbours = 0.0, noise;
    for (int d = -2; d <= 2; d++) {
        struct lds_scout_line other;
        lds_scout_at(look, (order + d) * mains_hz, &other, &noise);
        neighbours = d ? fmax(neighbours, other.power) : neighbours;
    }
    return line->power < ABOVE_NEIGHBOURS * neighbours;
}
