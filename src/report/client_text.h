/* The client's page as text. */
#ifndef LDS_REPORT_CLIENT_TEXT_H
#define LDS_REPORT_CLIENT_TEXT_H

#include <stdio.h>

/* job: struct lds_job. */
void lds_client_print(FILE *out, const void *job);

#endif
