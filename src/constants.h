/* Constants that several parts use. */
#ifndef LDS_CONSTANTS_H
#define LDS_CONSTANTS_H

/* Half-width of a 95 % interval in standard deviations of a normal distribution. */
static const double LDS_COVERAGE = 1.959963984540054;

/* Share of the sampling rate up to which a capture counts as usable (common practice, no source). */
static const double LDS_USABLE_SHARE = 0.45;

/* Standard uncertainty of a level from one capture to the next, dB (common practice, no source). */
#define LDS_REPEAT_LEVEL_DB 0.03

#endif
