/* FFTW plans, made one at a time, since FFTW's planner, unlike the rest of FFTW, must not run in two threads at once.
 * Always with FFTW_ESTIMATE: measuring a plan takes longer than the whole analysis. */
#ifndef LDS_SPECTRUM_FFT_H
#define LDS_SPECTRUM_FFT_H

#include <complex.h>
#include <fftw3.h>
#include <stdbool.h>
#include <stddef.h>

/* n real samples to n/2 + 1 bins. NULL: no memory. */
fftw_plan lds_fft_real(int n, double *in, double complex *out);
/* Whether a real transform of many frames is faster in place: short ones by a third, long ones are slower. A plan in
 * place always takes longer to make. */
bool lds_fft_best_in_place(int n);
/* n/2 + 1 bins, which are overwritten, to n real samples; the result is n times as large. NULL: no memory. */
fftw_plan lds_fft_to_real(int n, double complex *in, double *out);
/* n complex points in place; sign FFTW_FORWARD or FFTW_BACKWARD. */
fftw_plan lds_fft_complex(int n, double complex *points, int sign);
/* Runs an in-place plan on another array, allocated by malloc. x: real samples that become bins. */
void lds_fft_again(fftw_plan plan, double *x);
/* An even length with only the factors 2, 3 and 5, `least` or slightly more, for which a plan is made quickly. */
size_t lds_fft_length(size_t least);
/* n real points in place to their cosine transform (FFTW's REDFT10), or back from it; there and back gives 2n times the
 * points. NULL: no memory. */
fftw_plan lds_fft_cosine(int n, double *points, bool back);
/* plan may be NULL. */
void lds_fft_free(fftw_plan plan);

#endif
