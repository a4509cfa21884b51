/* Shared by the parts of the answer and the client's page. */
#ifndef LDS_REPORT_ANSWER_PARTS_H
#define LDS_REPORT_ANSWER_PARTS_H

#include "loadside/answer.h"
#include "report/words.h"

/* Chooses the figures. false: no memory. */
bool lds_answer_choose(struct lds_answer *answer, const struct lds_answer_group *group, size_t groups);

/* What stands behind the name of a figure: " at 10 W", " (10 W, 6 kHz)", " (idle)"; "" where nothing is added. */
struct lds_label lds_answer_where(const struct lds_answer_figure *figure);

/* Puts the sentences together. false: no memory. */
bool lds_answer_say(struct lds_answer *answer, const struct lds_answer_group *group, size_t groups);

#endif
