#include "job/power.h"

#include <math.h>

static const double SAME_LOAD = 0.05; /* common practice, no source */

const struct lds_bench *lds_power_bench(const struct lds_sheet_capture *capture)
{
    const struct lds_bench *bench = &capture->bench;
    for (size_t i = 0; isnan(bench->load_ohm) && i < capture->bench.channels; i++)
        if (!isnan(capture->bench.channel[i].bench.load_ohm))
            bench = &capture->bench.channel[i].bench;
    return bench;
}

bool lds_same_power(const struct lds_sheet_capture *a, const struct lds_sheet_capture *b)
{
    return a->power_w == b->power_w || (isnan(a->power_w) && isnan(b->power_w));
}

bool lds_power_is_stated(const struct lds_sheet *sheet, const struct lds_sheet_capture *capture, double low_w,
                         double high_w)
{
    double off_w = capture->power_w * sheet->power_tolerance_percent / 100.0;
    return !(low_w > capture->power_w + off_w) && !(high_w < capture->power_w - off_w);
}

bool lds_rating_is_for(const struct lds_rating *rating, double load_ohm)
{
    return fabs(load_ohm - rating->load_ohm) <= SAME_LOAD * rating->load_ohm;
}

bool lds_rating_is_exceeded(const struct lds_rating *rating, double load_ohm, double power_w)
{
    return lds_rating_is_for(rating, load_ohm) && power_w > rating->power_w * (1.0 + LDS_RATED_WITHIN);
}
