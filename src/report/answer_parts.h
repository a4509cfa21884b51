/* Shared by the parts of the answer. */
#ifndef LDS_REPORT_ANSWER_PARTS_H
#define LDS_REPORT_ANSWER_PARTS_H

#include "loadside/answer.h"

/* Chooses the figures. false: no memory. */
bool lds_answer_choose(struct lds_answer *answer, const struct lds_answer_group *group, size_t groups);

/* Puts the sentences together. false: no memory. */
bool lds_answer_say(struct lds_answer *answer, const struct lds_answer_group *group, size_t groups);

#endif
