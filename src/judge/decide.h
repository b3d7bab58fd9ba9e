/* From a difference to a verdict, and what it would take when there is none. */
#pragma once
#include "base/language.h"
#include "base/message.h"
#include "judge/difference.h"

#define EW_VERDICTS(X)                                                                             \
  X(GAIN, "gain", EW_TEXT("gain"))                                                                 \
  X(LOSS, "loss", EW_TEXT("loss"))                                                                 \
  X(SAME, "same", EW_TEXT("same"))                                                                 \
  X(UNDECIDED, "undecided", EW_TEXT("can't tell yet"))                                             \
  X(NOT_COMPARABLE, "not comparable", EW_TEXT("not comparable"))

enum ew_verdict {
#define X(id, key, words) EW_VERDICT_##id,
  EW_VERDICTS(X)
#undef X
      EW_VERDICTS_COUNT
};
extern const char *const ew_verdict_keys[], *const ew_verdict_words[];
/* As a word within messages: its identifier tells it ("verdict.undecided"). */
const struct ew_message_kind *ew_verdict_word(enum ew_verdict verdict);

struct ew_decision {
  enum ew_verdict verdict;
  double alpha;               /* left out of the interval: 0.05, or less after earlier looks */
  double low, high;           /* interval of the log difference */
  double same_low, same_high; /* the interval that "same" was asked of */
  gboolean real_but_small;    /* inside the margin, and yet not zero */
  const struct ew_message_kind *reason; /* why undecided, or NULL */
};

/* Precedence: not comparable is settled before; inside the margin wins over gain and loss; a margin of
 * NaN or 0 never gives same. `looks_before` counts earlier looks at the same pair: 0 is a single look, at
 * 95 %; after earlier ones the levels of ew_spending_level are used. A first look that others may follow
 * is EW_FIRST_OF_SEVERAL: it spends what all looks up to this number of pulls might have. */
#define EW_FIRST_OF_SEVERAL (-1)

struct ew_decision ew_decide(const struct ew_difference *d, double margin, int looks_before);

/* Two-sided nominal levels of alpha t^1.5 spending by total pulls, horizon 8; 0 beyond it. */
double ew_spending_level(int total_pulls);

/* Smallest number of further pulls a side (1..15) after which the comparison would settle with a
 * probability of 0.8, by 2,000 fixed-seed draws; 0 when none would do. */
int ew_pulls_needed(const struct ew_difference *d, double margin);

/* The smallest margin against which this cell can say "same" with n pulls a side; NaN: it is not known what the
 * cell repeats to. */
double ew_smallest_margin(struct ew_spread history, int n_a, int n_b);
/* The same from what today alone shows, where there is no history. */
double ew_smallest_margin_today(const struct ew_difference *d);
