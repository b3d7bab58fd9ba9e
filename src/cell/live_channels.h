/* What the columns of a live source measure, and how their figures become inside units: the same
 * recognition as for files, but without waiting for data. */
#pragma once
#include "cell/source.h"
#include "pull/channel_map.h"

struct ew_live_channel {
  enum ew_channel channel; /* EW_CHANNELS_COUNT: not known */
  int index;               /* cylinder or bank; 0 none */
  struct ew_unit unit;
  gboolean guessed; /* the source had no unit: the usual one is taken */
  gboolean second;  /* an earlier source gives it too, and counts */
};

/* One a channel of the source. Where several claim the same, the first keeps it. */
GArray *ew_live_channels(const struct ew_source_channels *channels,
                         const struct ew_channel_map *map);
/* Column of a channel, -1 when there is none. */
int ew_live_find(const GArray *live, enum ew_channel channel, int index);
/* A channel as the argument of a message. */
struct ew_argument ew_live_say_channel(const char *name, enum ew_channel channel);
