/* Decimal numbers in text, read the same way in every locale. */
#ifndef LDS_NUMBER_H
#define LDS_NUMBER_H

#include <stdbool.h>

/* Reads [+-]digits[.digits][e[+-]digits] at the start of text, correctly rounded; `mark` is a second character accepted
 * as the decimal point (',' or '.'). Returns the text after the number, or NULL when there is none or it is too large
 * for a double. *quantum (may be NULL) is the weight of the last digit written: "1.50e-3" gives 1e-5. Spaces are not
 * skipped; hexadecimal numbers, inf and nan are not accepted. */
const char *lds_number_read(const char *text, char mark, double *value, double *quantum);

#endif
