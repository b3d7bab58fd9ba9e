/* Messages in tests: looked for by identifier, their figures by name. Never by their words. */
#pragma once
#include "base/message.h"
#include <math.h>
#include <string.h>

static inline const char *id_of(const ew_message *message) {
  return message ? ew_message_id(message) : "nothing";
}

/* The first of this identifier, or NULL. */
static inline const ew_message *message_of(const GPtrArray *messages, const char *id) {
  for (guint i = 0; i < messages->len; i++)
    if (strcmp(ew_message_id(messages->pdata[i]), id) == 0)
      return messages->pdata[i];
  return NULL;
}

static inline gboolean says_so(const GPtrArray *messages, const char *id) {
  return message_of(messages, id) != NULL;
}

/* The figure or count of an argument; NaN when there is none. */
static inline double figure_of(const ew_message *message, const char *name) {
  const struct ew_argument *a = message ? ew_message_argument(message, name) : NULL;
  return !a ? (double)NAN : a->kind == EW_ARGUMENT_COUNT ? (double)a->count : a->figure;
}
