/* An analyser looks for one kind of thing in a channel. Its row says what it is fed with during the pass, and which
 * functions collect its findings and make figures of them. Each analyser's file has its row, lds_analyse_NAME; the list
 * below has them all. */
#ifndef LDS_MEASURE_ANALYSER_H
#define LDS_MEASURE_ANALYSER_H

#include "measure/findings.h"
#include "spectrum/cascade.h"

enum lds_analyser_tone { LDS_ANY_TONE, LDS_WITH_TONE, LDS_WITHOUT_TONE }; /* found by the first look, or stated */
enum lds_analyser_frames { LDS_AUDIO_FRAMES, LDS_ALL_FRAMES };            /* of which levels */

struct lds_analyser {
    unsigned signals; /* the signals it is for, 1 << enum lds_signal_kind each; 0: any */
    enum lds_analyser_tone tone;
    enum lds_analyser_frames frames;
    bool still; /* not for a stated signal that moves (lds_findings_moving): noise and hum cannot be told from it */

    /* Each function may be NULL, and returns false when there is no memory. start: what is known before the pass. If
     * *state stays NULL there is nothing to do, and the analyser is neither fed nor finished. */
    bool (*make)(const struct lds_findings *start, void **state);
    /* The next n samples, as they were captured, of the audio level's stream, and of the slow stream. */
    bool (*raw)(void *state, const double *x, size_t n);
    bool (*audio)(void *state, const double *x, size_t n);
    bool (*slow)(void *state, const double *x, size_t n);
    bool (*frame)(void *state, const struct lds_frame *frame);
    /* Ends the pass. The analysers listed before this one have added their findings. */
    bool (*finish)(void *state, struct lds_findings *findings);
    /* Called once the jumps of the tone's phase are known. */
    bool (*after_jumps)(void *state, struct lds_findings *findings);
    /* Appends figures and series to the record, or why they are absent. It is called for the signals of the row, also
     * where nothing was made: state is then NULL. Nothing was made where `make` left *state NULL, where there is no
     * `make`, and where `tone`, `still` or the signal that was stated ruled it out. */
    bool (*figures)(const void *state, struct lds_channel *channel, const struct lds_findings *findings);
    void (*free)(void *state);
};

/* All of them, in the order in which they finish and give their figures: each comes after those whose findings it
 * needs. */
#define LDS_EACH_ANALYSER(row)                                                                                         \
    row(health) row(level) row(tone) row(dc) row(signal) row(beside_tone) row(harmonics) row(residual) row(noise)      \
        row(bursts) row(popcorn) row(mains) row(intermodulation) row(lines) row(spectrum) row(identical)

#define LDS_ANALYSER_DECLARED(name) extern const struct lds_analyser lds_analyse_##name;
LDS_EACH_ANALYSER(LDS_ANALYSER_DECLARED)
#undef LDS_ANALYSER_DECLARED

#define LDS_ANALYSER_COUNTED(name) +1
enum { LDS_ANALYSERS = LDS_EACH_ANALYSER(LDS_ANALYSER_COUNTED) };
#undef LDS_ANALYSER_COUNTED
extern const struct lds_analyser *const lds_analysers[LDS_ANALYSERS];

/* Whether an analyser is for that kind of signal. NONE: not known yet. */
bool lds_analyser_is_for(const struct lds_analyser *analyser, enum lds_signal_kind kind);

#endif
