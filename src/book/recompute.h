/* A stored pull computed again from its raw bytes, with the method, cell and engine it was stored with. */
#pragma once
#include "book/store.h"

struct ew_recomputed {
  struct ew_recording_row recording;
  struct ew_pull_row pull;
  struct ew_method method;
  struct ew_bench bench;
  struct ew_engine engine;
  struct ew_setup setup;
  struct ew_calibrated *calibration; /* applied to raw; NULL: none */
  struct ew_processed *processed;
  guint part;
  gboolean
      match; /* set by ew_alter_records: where the pulls of the recording are may have changed. When as many are found as it
                   * has, they are the same in their order; else this one is that which shares most time with its stored curve */
  gboolean
      gone; /* no pull of this recording any more where it was: with `match` an answer, else set with the error */
};
/* A pull is known by its place among those of its recording. That of an earlier reduction, which may have found others,
 * is the one that shares most time with its stored curve. When there is none, it is an error and again->gone. */
gboolean ew_recompute(struct ew_book *book, gint64 pull_id, struct ew_recomputed *again,
                      GError **error);
/* The same by another method: what the curve would be. */
gboolean ew_recompute_by(struct ew_book *book, gint64 pull_id, const struct ew_method *method,
                         struct ew_recomputed *again, GError **error);
/* The same with records that `alter` changes before anything is computed: FALSE with *error from it ends it. */
typedef gboolean (*ew_alter_records)(struct ew_recomputed *again, gpointer user, GError **error);
gboolean ew_recompute_altered(struct ew_book *book, gint64 pull_id, ew_alter_records alter,
                              gpointer user, struct ew_recomputed *again, GError **error);
void ew_recomputed_clear(struct ew_recomputed *again);
const struct ew_curve *ew_recomputed_curve(const struct ew_recomputed *again);
struct ew_reduce_facts ew_recomputed_facts(const struct ew_recomputed *again);

/* A record from canonical YAML; empty text gives the defaults. */
gboolean ew_record_from_yaml(const struct ew_fields *table, const char *what, const char *yaml,
                             void *record, GError **error);
