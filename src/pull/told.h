/* Where each fact of a pull comes from: a list that is stored with it, as a JSON array of one object a fact:
 *
 *   {"fact":"pressure","from":"carried","at":"2026-11-30T15:50:00Z","pull":"7","age_s":840,"u":110}
 *
 * With `amended`, an instant: it was told otherwise then, and this is what was said. `at`: when it was read; `pull`: the number of the pull that it was told for first, of a carried one; `age_s`: how old it was
 * when the pull ran; `u`: its standard uncertainty in the inside unit, age included. What is not known is left out. */
#pragma once
#include <glib.h>

/* id, key */
#define EW_TOLD_FACTS(X)                                                                           \
  X(PRESSURE, "pressure")                                                                          \
  X(TEMPERATURE, "temperature")                                                                    \
  X(HUMIDITY, "humidity")                                                                          \
  X(TIME, "time")                                                                                  \
  X(UNITS, "units")                                                                                \
  X(SETUP, "set-up")                                                                               \
  X(ENGINE, "engine")                                                                              \
  X(CELL, "cell")                                                                                  \
  X(FUEL, "fuel")
enum ew_told_fact {
#define X(id, key) EW_TOLD_##id,
  EW_TOLD_FACTS(X)
#undef X
      EW_TOLD_FACTS_COUNT
};
extern const char *const ew_told_fact_keys[EW_TOLD_FACTS_COUNT];

/* id, key: said with this pull; recorded with it; said for an earlier pull; the recorder's profile; the cell's own weather
 * station; nobody said and this is usual; in the file; the file's time stamp; this machine's clock; not known */
#define EW_TOLD_ORIGINS(X)                                                                         \
  X(TYPED, "typed")                                                                                \
  X(CHANNEL, "channel")                                                                            \
  X(CARRIED, "carried")                                                                            \
  X(PROFILE, "profile")                                                                            \
  X(STATION, "station")                                                                            \
  X(DEFAULT, "default")                                                                            \
  X(FILE, "file")                                                                                  \
  X(STAMP, "stamp")                                                                                \
  X(CLOCK, "clock")                                                                                \
  X(UNKNOWN, "unknown")
enum ew_told_from {
#define X(id, key) EW_FROM_##id,
  EW_TOLD_ORIGINS(X)
#undef X
      EW_TOLD_ORIGINS_COUNT
};
extern const char *const ew_told_from_keys[EW_TOLD_ORIGINS_COUNT];

struct ew_told {
  enum ew_told_fact fact;
  enum ew_told_from from;
  char *at, *pull; /* NULL: not known */
  double age_s, u; /* NaN: not known */
  char *amended;   /* when it was corrected; NULL: as first told */
};

/* struct ew_told, cleared by the array. */
GArray *ew_told_new(void);
/* Texts are copied; NULL and NaN are left out. */
void ew_told_add(GArray *told, enum ew_told_fact fact, enum ew_told_from from, const char *at,
                 const char *pull, double age_s, double u);
/* This fact is so now, in the place of what the list said of it; `amended`: instant, NULL: it follows from what was. */
void ew_told_put(GArray *told, struct ew_told one, const char *amended);
char *ew_told_write(const GArray *told);
/* Of NULL, of "[]" and of what cannot be read: empty. A fact or an origin that this program does not know is left out. */
GArray *ew_told_read(const char *text);
/* NULL: it is not in the list. */
const struct ew_told *ew_told_find(const GArray *told, enum ew_told_fact fact);
