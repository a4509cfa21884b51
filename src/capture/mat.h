/* Detects MAT files that end within their matrices; libsndfile silently shortens them. */
#ifndef LDS_CAPTURE_MAT_H
#define LDS_CAPTURE_MAT_H

#include "capture/reader.h"

/* LDS_BAD_INPUT when a matrix of the file (level 4 or 5) is incomplete. */
enum lds_status lds_mat_check(const struct lds_source *source, int level, struct lds_error *error);

#endif
