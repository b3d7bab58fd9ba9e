/* How the parts of a check add to it. Private to src/engine/check*.c. */
#pragma once
#include "engine/check.h"

/* One figure; a NaN is left out. */
void ew_check_add(struct ew_engine_check *check, const struct ew_figure *about, double value);
/* An array; left out when any value is NaN. */
void ew_check_add_list(struct ew_engine_check *check, const struct ew_figure *about,
                       const double *values, gsize count);
/* Takes the message; `field`: what to look at ("compression.chambers"). */
void ew_check_warn(struct ew_engine_check *check, const char *field, ew_message *warning);
/* Reports what is missing when `value` is NaN; returns whether it is there. The second for kinds with a {side}. */
gboolean ew_check_need(struct ew_engine_check *check, double value,
                       const struct ew_message_kind *left_out);
gboolean ew_check_need_of(struct ew_engine_check *check, double value,
                          const struct ew_message_kind *left_out, enum ew_side side);

void ew_check_size(struct ew_engine_check *check);        /* check_size.c */
void ew_check_compression(struct ew_engine_check *check); /* check_compression.c */
/* check_advice.c: compression against cam and fuel; fuel NULL: not known */
void ew_check_advice(struct ew_engine_check *check, const struct ew_fuel_case *fuel);
void ew_check_valves(struct ew_engine_check *check);    /* check_valves.c */
void ew_check_breathing(struct ew_engine_check *check); /* check_breathing.c */

/* A speed of the crank, in whole rpm. */
static inline struct ew_argument ew_say_rpm(const char *name, double speed_rpm) {
  return ew_say_quantity(name, EW_KIND_ROTATIONAL_SPEED, speed_rpm, 0);
}

#define EW_FIGURE(key_, section_, label_, kind_, confidence_, ...)                                 \
  (&(const struct ew_figure){.key = key_,                                                          \
                             .section = section_,                                                  \
                             .label = label_,                                                      \
                             .kind = EW_KIND_##kind_,                                              \
                             .confidence = EW_##confidence_,                                       \
                             .method = __VA_ARGS__})
