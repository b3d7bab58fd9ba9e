/* A recording: channels on one clock, in inside units, with flags for what cleaning touched and the
 * reason why each column was taken for what it is. */
#pragma once
#include "base/message.h"
#include "base/table.h"
#include "pull/channel_map.h"

/* What cleaning did to a sample, or found about it. */
enum ew_flag {
  EW_FLAG_SPIKE = 1,     /* far outside its neighbours; replaced */
  EW_FLAG_DROPOUT = 2,   /* missing, or zero between living values; short ones replaced */
  EW_FLAG_FLAT = 4,      /* did not move while its partners did; kept */
  EW_FLAG_SATURATED = 8, /* at the end of its range; kept */
  EW_FLAG_LOST = 16,     /* missing for longer than can be filled; NaN */
  EW_FLAG_BETWEEN =
      32, /* of a slower channel: on the straight line between two samples of its own */
};

struct ew_series_channel {
  enum ew_channel channel; /* EW_CHANNELS_COUNT: not known, kept by name only */
  int index;               /* cylinder or bank, 0 when none */
  char *name;              /* the column's heading */
  char *unit;              /* as understood, or NULL */
  gboolean unit_assumed;   /* nobody gave it: the usual one that makes its figures plausible */
  ew_message *why;         /* it is taken for this channel, or for none */
  double lag_s; /* of its sensor, taken out by cleaning: as stated in a channel map, else 0 */
  gboolean lag_stated;
  double scale;        /* of a channel map: what the file's figures were multiplied by, else 1 */
  gboolean of_station; /* by a channel map: of the cell's own weather station */
  gsize lag_rows;      /* by how many rows cleaning moved the samples forward for it */
  double interval_s; /* between its own samples; the series' unless it is slower. Set by cleaning */
  gboolean slow;     /* its own samples are fewer than the rows */
  double *values;    /* rows of them; NULL for text columns and channels that are not known */
  guint8 *flags;     /* rows of enum ew_flag; NULL before cleaning */
};

struct ew_series {
  char *name;
  gsize rows;
  gboolean timed;      /* time_s is real, and rising */
  double *time_s;      /* from 0; row numbers when not timed */
  double start_unix_s; /* NaN when the file gives no date */
  double interval_s;   /* median step; NaN when not timed */
  guint clock_jumps;
  double ratio_scale; /* that a channel map says an air-fuel ratio is scaled by; NaN: none */
  guint channels_count;
  struct ew_series_channel *channels;
  GPtrArray *notes; /* of messages */
};

/* Understand a table. `map` may be NULL. `stoichiometric_ratio` turns an air-fuel ratio into lambda;
 * NaN when the fuel is not known, and the column is then kept as it is, with a note. */
struct ew_series *ew_series_from_table(struct ew_table *table, const char *name,
                                       const struct ew_channel_map *map,
                                       double stoichiometric_ratio, GError **error);
void ew_series_free(struct ew_series *series);

/* The first channel of this kind (or with this index when it is above 0), or NULL. */
struct ew_series_channel *ew_series_find(const struct ew_series *series, enum ew_channel channel,
                                         int index);
/* Where its lag comes from: "channel map", or "not stated" (then none is taken). Static. */
const char *ew_series_lag_from(const struct ew_series_channel *channel);
/* Its values, or NULL. */
const double *ew_series_values(const struct ew_series *series, enum ew_channel channel);
