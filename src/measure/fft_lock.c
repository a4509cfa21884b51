#include "measure/fft_lock.h"

#include <pthread.h>

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;

void lds_fft_lock(void)
{
    pthread_mutex_lock(&lock);
}

void lds_fft_unlock(void)
{
    pthread_mutex_unlock(&lock);
}
