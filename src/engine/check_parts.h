/* How the parts of a check add to it. Private to src/engine/check*.c. */
#pragma once
#include "engine/check.h"

/* One figure; a NaN is left out. */
void ew_check_add(struct ew_engine_check *check, const struct ew_figure *about, double value);
/* An array; left out when any value is NaN. */
void ew_check_add_list(struct ew_engine_check *check, const struct ew_figure *about,
                       const double *values, gsize count);
void ew_check_warn(struct ew_engine_check *check, enum ew_severity grade, const char *field,
                   const char *format, ...) G_GNUC_PRINTF(4, 5);
/* Say what is missing when `value` is NaN; returns whether it is there. */
gboolean ew_check_need(struct ew_engine_check *check, double value, const char *figure,
                       const char *needs);

void ew_check_size(struct ew_engine_check *check);        /* check_size.c */
void ew_check_compression(struct ew_engine_check *check); /* check_compression.c */
void ew_check_valves(struct ew_engine_check *check);      /* check_valves.c */
void ew_check_breathing(struct ew_engine_check *check);   /* check_breathing.c */

#define EW_FIGURE(key_, section_, label_, kind_, confidence_, method_)                             \
  (&(const struct ew_figure){.key = key_,                                                          \
                             .section = section_,                                                  \
                             .label = label_,                                                      \
                             .kind = EW_KIND_##kind_,                                              \
                             .confidence = EW_##confidence_,                                       \
                             .method = method_})
