/* What the files of adding share: add.c reads and keeps, add_notes.c says what the person should know of it. */
#pragma once
#include "book/change.h"
#include "book/keep.h"
#include "desk/add.h"
#include "desk/calibrated.h"
#include "desk/carry.h"
#include "desk/doubt.h"
#include "desk/place.h"
#include "desk/station.h"
#include "desk/when.h"

/* One file on its way. What prepare() makes is cleared and made again when another pull comes first. */
struct adding {
  const struct ew_desk *desk;
  struct ew_desk own; /* this file is read with: a copy, as others go on with theirs */
  const struct ew_add_options *options;
  GBytes *bytes; /* NULL: a cut, whose rows are where it says */
  const char *name;
  char *sha256;
  struct ew_table *
      table; /* of the bytes, until it is processed: read once for all that asks it; NULL: read again */
  GArray *pulls; /* struct ew_new_pull */
  struct ew_engine_row engine;
  struct ew_pull_row last; /* added; another one by the time of keeping, and all is done again */
  struct ew_last_kept before_all; /* anything else kept by the time of keeping, and so it is too */
  struct ew_pull_row
      prior;    /* that ran before this one, by its time: a copy of a row of `rows`, not owned */
  GArray *rows; /* struct ew_pull_row: all pulls of the book */
  struct ew_when when;
  struct ew_carried carried;
  struct ew_before before;
  struct ew_setup setup;
  struct ew_processed *processed;
  GPtrArray *findings; /* of GPtrArray of messages: what holds each pull */
  GPtrArray *units;    /* messages: units that nobody named, taken as the book's */
  char *map, *at, *day, *source, *recorder;
  char *clock_zone;     /* of the recorder's own clock; NULL: the shop's */
  gboolean is_station;  /* no pull in it: readings of the cell's own weather station */
  gboolean map_is_ours; /* made here, from the book's units: kept for files of this kind */
  ew_message *doubt;    /* of its barometer; NULL: none */
  const char *figures;  /* digest of what the file says, however it was saved; NULL: no table */
  struct ew_run_place place;
};

/* Of a recording that was kept, or was there before: `added` has its notes. */
void ew_add_notes(struct adding *a, const struct ew_kept_recording *kept, struct ew_added *added);
static inline double ew_now_s(void) {
  return (double)g_get_real_time() / 1e6;
}
