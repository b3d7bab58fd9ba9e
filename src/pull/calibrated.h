/* What calibrations say of a cell's sensors, as applied to raw before anything else is done with it: for each channel a straight
 * line, true = offset + gain x (read - zero). The record is kept with each curve, so that the same raw gives the same bits again
 * after the next calibration, and its uncertainty goes into the budget.
 *
 * A channel that no line names is left to the bit as it was recorded. */
#pragma once
#include "base/message.h"
#include "pull/series.h"

struct ew_calibrated_line {
  int channel;             /* enum ew_channel */
  double gain, gain_u;     /* standard uncertainty */
  double offset, offset_u; /* inside unit of the channel */
  double covariance;       /* of offset and gain */
  double points;           /* behind the line: freedom is two less; NaN: not known */
  double zero;             /* read without load, as the line was in force; 0: none */
  double zero_age_s;       /* before the pull; NaN: no zero was read since the line */
  double hysteresis;       /* largest difference of loading up and down; NaN: not known */
  char *at;                /* when it was calibrated, ISO 8601 */
  gboolean expired;        /* no longer valid when the pull ran */
};

struct ew_calibrated {
  GArray *lines; /* struct ew_calibrated_line */
};
typedef struct ew_calibrated ew_calibrated;
ew_calibrated *ew_calibrated_new(void);
ew_calibrated *ew_calibrated_copy(const ew_calibrated *calibrated); /* NULL of NULL */
void ew_calibrated_free(ew_calibrated *calibrated);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_calibrated, ew_calibrated_free)
/* Takes the line with its text. A line of that channel is replaced. */
void ew_calibrated_add(ew_calibrated *calibrated, struct ew_calibrated_line line);
/* NULL: that channel is not calibrated; of NULL, NULL. */
const struct ew_calibrated_line *ew_calibrated_find(const ew_calibrated *calibrated,
                                                    enum ew_channel channel);

/* A reading corrected; NaN stays NaN. */
double ew_calibrated_value(const struct ew_calibrated_line *line, double read);
/* Its standard uncertainty from the line, with the covariance of offset and gain (GUM H.3). */
double ew_calibrated_u(const struct ew_calibrated_line *line, double read);
/* What was read where the line gives `value`. */
double ew_calibrated_read_of(const struct ew_calibrated_line *line, double value);

/* All channels of a series, before it is cleaned. O(samples of calibrated channels). */
void ew_calibrated_apply(const ew_calibrated *calibrated, struct ew_series *series);

/* Canonical text, which reads to the same bits; NULL of none. */
char *ew_calibrated_write(const ew_calibrated *calibrated);
/* NULL or "" is none: TRUE with *calibrated NULL. */
gboolean ew_calibrated_parse(const char *text, ew_calibrated **calibrated, GError **error);
