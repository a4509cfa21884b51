/* Errors. Every function that can fail returns an lds_status and fills an lds_error, if given, whose message is one
 * line: what was found, what was expected, what to do. */
#ifndef LOADSIDE_ERROR_H
#define LOADSIDE_ERROR_H

#ifdef __cplusplus
extern "C" {
#endif

enum lds_status {
    LDS_OK = 0,
    LDS_BAD_INPUT, /* a file or its contents cannot be used */
    LDS_BAD_USE,   /* an option, key or value is wrong */
    LDS_IO,        /* reading or writing failed: no such file, full disk, ... */
    LDS_NO_MEMORY,
};

struct lds_error {
    enum lds_status status;
    char message[1024]; /* UTF-8, one line, no full stop, no trailing newline */
};

#ifdef __cplusplus
}
#endif
#endif
