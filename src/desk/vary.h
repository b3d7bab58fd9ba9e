/* What-ifs: variants of an engine run together with the engine as it is, as differences of torque with
 * their uncertainty. A difference ranks; it is not a promise. */
#pragma once
#include "base/json_writer.h"
#include "desk/predict.h"
#include "desk/vary_keep.h"

struct ew_variant {
  char *text;          /* as asked: "lambda 0.80" */
  char *says;          /* what it comes to: "lambda 0.88 → 0.80" */
  double lower, upper; /* difference of mean torque below and above the middle speed */
  double lower_u, upper_u, worst_knock, octane;
  gboolean converged, done, beyond; /* beyond: asks for more octane than most_octane */
  double *torque_n_m;               /* at the speeds */
};

struct ew_variants {
  struct ew_variant *variant; /* the best first */
  guint count;
  int speeds;
  double *base_n_m; /* the engine as it is */
  double middle_rpm;
  gboolean keeping; /* there was a file; what was found in it: */
  struct ew_kept_counts kept;
};

struct ew_vary {
  struct ew_prediction_setup setup;
  const double *speed_rpm;
  int speeds;
  const struct ew_cycle_options *options;
  double most_octane; /* infinite: no limit */
  const char *keep;   /* a file of kept answers (vary_keep.h); NULL: none */
};

#define EW_VARIANTS_MOST 1000000 /* what memory is meant for: some 300 bytes and a curve each */
/* An array of struct ew_variation that owns their texts. */
GArray *ew_variations_new(void);
/* A copy with a text of its own at the end of such an array. */
void ew_variation_append(GArray *variations, const struct ew_variation *variation);
/* Sets of variations to run (GArray of struct ew_variation): one at a time, or all combinations of
 * different names. The texts stay those of `all`, which has to live longer. NULL with an error when they
 * are more than EW_VARIANTS_MOST; they are counted before any is made. */
GPtrArray *ew_variants_of(const GArray *all, gboolean grid, GError **error);
/* Cost: n variants take (knobs + 1) plans each and, where they are not kept, as many curves; look-ups and
 * writes are proportional to n, the ordering n log n. Plans and curves live for a batch of twelve. */
gboolean ew_vary_run(const struct ew_vary *ask, GPtrArray *sets, struct ew_variants *answer,
                     GError **error);
/* What the answer about one set of variations belongs to, EW_CYCLE_HEX bytes: a digest of the plans of the
 * engine as it is and as varied (each fitted knob moved in turn), of speeds, given spark and of how a
 * difference is judged. */
gboolean ew_vary_key(const struct ew_vary *ask, const GArray *set, char *hex, GError **error);
void ew_variants_clear(struct ew_variants *variants);
void ew_variants_write_json(const struct ew_variants *variants, struct ew_json *json);
