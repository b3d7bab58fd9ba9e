/* Answers about variants, kept in a file (kept_file.h): a search that is stopped goes on where it was. */
#pragma once
#include "desk/kept_file.h"

struct ew_kept_answer {
  double lower, upper, lower_u, upper_u, worst_knock, octane; /* of struct ew_variant; may be NaN */
  gboolean converged;
  int speeds;
  double *torque_n_m; /* [speeds], the caller's */
};

/* NULL with an error when the file cannot be opened, or is something else. */
struct ew_kept_file *ew_vary_keep_open(const char *path, GError **error);
/* FALSE when there is none for this key and number of speeds. torque_n_m has room for them. */
gboolean ew_vary_keep_find(struct ew_kept_file *keep, const char *key, int speeds,
                           struct ew_kept_answer *answer);

struct ew_kept_row {
  const char *key, *text;
  struct ew_kept_answer answer;
};
gboolean ew_vary_keep_add(struct ew_kept_file *keep, const struct ew_kept_row *rows, int n,
                          GError **error);
