/* What the parts of the client's page hand to one another. */
#ifndef LDS_REPORT_CLIENT_PARTS_H
#define LDS_REPORT_CLIENT_PARTS_H

#include "report/client.h"

/* The table: a row a figure of the answer. */
void lds_client_rows(struct lds_client *client, const struct lds_answer *answer, const struct lds_answer_group *group);

/* "Hum, total"; title: "10 W", or NULL. */
struct lds_label lds_client_label(const char *key, const char *title);

/* Where one side alone is there: what its captures show. */
void lds_client_measured(struct lds_client *client, const struct lds_job *job);

/* Limits, power, what to beware of, what the intervals mean, who measured. */
void lds_client_words(struct lds_client *client, const struct lds_job *job);

#endif
