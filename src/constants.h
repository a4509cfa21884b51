/* Numbers that several parts share. */
#ifndef LDS_CONSTANTS_H
#define LDS_CONSTANTS_H

/* Half-width of a 95 % interval in standard deviations of a normal distribution. */
static const double LDS_COVERAGE = 1.959963984540054;

/* Of the sampling rate: a capture is taken to be good up to there (common practice, no source). */
static const double LDS_USABLE_SHARE = 0.45;

#endif
