/* Lines and curves of a group that was compared, on the page. */
#ifndef LDS_REPORT_HTML_LINES_H
#define LDS_REPORT_HTML_LINES_H

#include "report/change_rows.h"
#include "report/html_parts.h"

/* Single lines that changed; where a curve changed. */
void lds_html_line_changes(const struct lds_html_place *place, const struct lds_job_group *group,
                           const struct lds_beside *beside);
void lds_html_axes(const struct lds_html_place *place, const struct lds_comparison *comparison);

#endif
