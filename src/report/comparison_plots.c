#include "loadside/report.h"
enum lds_status lds_comparison_plots(const struct lds_comparison *comparison, struct lds_side before,
                                     struct lds_side after, const char *folder, unsigned options, int *drawn,
                                     struct lds_error *error)
{
    (void)comparison, (void)before, (void)after, (void)folder, (void)options, (void)error;
    *drawn = 0;
    return LDS_OK;
}
