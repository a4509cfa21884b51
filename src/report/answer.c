#include "loadside/answer.h"

#include <stdlib.h>

#include "fail.h"
#include "report/answer_parts.h"
#include "report/figures.h"
#include "scarce.h"

enum lds_status lds_answer_make(struct lds_answer *answer, const struct lds_answer_group *group, size_t groups,
                                struct lds_error *error)
{
    struct lds_point_locale locale;
    *answer = (struct lds_answer){0};
    bool enough = lds_point_locale_enter(&locale);
    if (enough) {
        enough = lds_answer_choose(answer, group, groups) && lds_answer_say(answer, group, groups);
        lds_point_locale_leave(&locale);
    }
    enough = !lds_scarce_take() && enough;
    return enough ? LDS_OK : lds_fail_memory(error, "the answer");
}

void lds_answer_free(struct lds_answer *answer)
{
    for (size_t i = 0; i < answer->channels; i++)
        free(answer->channel_verdict[i]);
    free(answer->channel_verdict);
    free(answer->verdict);
    *answer = (struct lds_answer){0};
}
