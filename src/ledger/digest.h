/* Digests that identify a job and show whether its rows are still those that were added. */
#ifndef LDS_LEDGER_DIGEST_H
#define LDS_LEDGER_DIGEST_H

#include "ledger/sql.h"

enum { LDS_DIGEST_TEXT = 65 }; /* SHA-256 in hexadecimal, with its end */

/* SHA-256 of make, type, serial number and date, then of the captures' own sums in rising order, each text ended by a
 * NUL; what is not stated is an empty text. LDS_BAD_INPUT: the job has no sum for the file of a capture. */
enum lds_status lds_digest_identity(const struct lds_job *job, char identity[LDS_DIGEST_TEXT], struct lds_error *error);

/* The SHA-256 of the file of a capture, as the job found it; NULL: none. */
const char *lds_digest_of_file(const struct lds_job *job, const char *file);

/* SHA-256 over every row of a job in a ledger of that version. Row numbers and NULLs are left out, so that it stays the
 * same when a newer version adds columns and tables. docs/ledger.md says how it is made. */
void lds_digest_rows(struct lds_ledger *ledger, int version, int64_t job, char digest[LDS_DIGEST_TEXT]);

/* LDS_BAD_INPUT when the rows of any job are not those that were added. */
void lds_digest_check(struct lds_ledger *ledger, int version);

#endif
