#include "measure/figures.h"

#include <math.h>
#include <string.h>

#include "record/series.h"

/* Flags from the signal on the figures of one tone and of noise: a tone with silence around it is not steady, and for
 * one that may be hum neither kind is certain. */
void lds_signal_flags(struct lds_channel *channel, const struct lds_findings *findings)
{
    bool part = !isnan(findings->from_s), hum = findings->has_tone && findings->scout.hum_order > 0;
    for (size_t i = 0; i < channel->figures; i++) {
        struct lds_figure *figure = &channel->figure[i];
        if (figure->name.row->of >= LDS_OF_RESIDUAL)
            figure->flags |= (part ? LDS_FLAG_DRIFTING : 0u) | (hum ? LDS_FLAG_NEAR_LINE : 0u);
    }
    struct lds_series *harmonics = lds_channel_own_series(channel, "harmonics");
    for (size_t i = 0; hum && harmonics && i < harmonics->rows; i++)
        harmonics->flag[i] |= LDS_FLAG_NEAR_LINE;
}
