/* A line for inih, which would take the rest of one that is too long for its buffer as another. */
#ifndef LDS_INI_LINE_H
#define LDS_INI_LINE_H

#include <stdio.h>

enum lds_ini_line {
    LDS_INI_END, /* of the file, or an error in it (ferror tells) */
    LDS_INI_LINE,
    LDS_INI_TOO_LONG /* the whole line is passed over; at most size - 2 characters fit */
};

enum lds_ini_line lds_ini_line_read(char *text, int size, FILE *file);

#endif
