/* The files that a report is based on, identified by their SHA-256 (FIPS 180-4). */
#ifndef LDS_JOB_DIGEST_H
#define LDS_JOB_DIGEST_H

#include <nettle/sha2.h>
#include <stdbool.h>

#include "loadside/job.h"

/* Fills the job's list of files: the sheet, its captures, bench files; each once. */
enum lds_status lds_digest_files(struct lds_job *job, struct lds_error *error);

/* Ends a sum, and writes it in hexadecimal with an end, 65 characters. */
void lds_digest_hex(struct sha256_ctx *sum, char *text);

/* Whether the path is a pipe, a device or standard input ("-"): it can only be read once, and a pipe without a writer
 * blocks forever. A path that does not exist is not a stream. */
bool lds_is_stream(const char *path);

#endif
