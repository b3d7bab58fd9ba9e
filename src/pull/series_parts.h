/* What the files of a series share. Internal to src/pull/series*.c and heading_unit.c. */
#pragma once
#include "pull/series.h"

/* A column's claim on its channel. */
#define EW_CLAIM_BY_UNIT                                                                           \
  40 /* strength of a column that only its unit names: less than any heading */
struct ew_claim {
  int strength;
  struct ew_unit unit;
  gboolean has_unit;
  gboolean wrong_unit;   /* the heading meant a channel that is not measured in this unit: */
  enum ew_channel meant; /* that channel */
  GError *problem;       /* and why not; owned */
  double factor;         /* what the heading multiplies its figures by; 0: nothing */
};

/* 1. Each column's claim; refuses a map's unit that its channel cannot have. */
gboolean ew_series_claim(struct ew_series *series, struct ew_table *table,
                         const struct ew_channel_map *map, struct ew_claim *claims, GError **error);
/* Why the column is what it is (taken). */
void ew_series_explain(struct ew_series_channel *one, ew_message *why);
/* The column serves no channel, and why (taken). */
void ew_series_forget(struct ew_series_channel *one, ew_message *why);
/* 2. Days in one column and the clock in another are one time: the days since the first go into the clock. A column with one date in
 * every row is not a time. O(rows of such columns). */
void ew_series_join_dates(struct ew_series *series, const struct ew_table *table);
/* 3. Finds the time, puts the rows into its order and counts from the first; without a usable one, rows count. */
void ew_series_settle_time(struct ew_series *series, const struct ew_table_layout *layout,
                           struct ew_claim *claims);
/* The unit that the last word or two of a heading write, or the whole of it, where it measures this kind; NULL: none. */
char *ew_heading_unit(const char *name, enum ew_kind kind, struct ew_unit *unit);
/* 1000 of "RPM x1000", "rpm/1000" (figures are thousands); *size: the bytes of text before it. 1: the text ends otherwise. */
double ew_heading_factor(const char *text, gsize *size);
