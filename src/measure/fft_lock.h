/* FFTW plans may be executed at once by many threads, but made and destroyed by one only (FFTW manual, "Thread
 * safety"). Whoever makes a plan beside other threads holds this lock meanwhile. */
#ifndef LDS_MEASURE_FFT_LOCK_H
#define LDS_MEASURE_FFT_LOCK_H

void lds_fft_lock(void);
void lds_fft_unlock(void);

#endif
