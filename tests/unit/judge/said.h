/* What a message says in English and SI, for tests whose rows are words. */
#pragma once
#include "base/message.h"
#include <string.h>

static inline gboolean said(const ew_message *message, const char *words) {
  g_autofree char *text = message ? ew_message_text(message, EW_UNITS_SI) : NULL;
  gboolean found = text && strstr(text, words) != NULL;
  if (!found)
    g_printerr("'%s' is not in '%s'\n", words, text ? text : "nothing");
  return found;
}

/* Somebody's finding as a message with a text of its own. */
static inline ew_message *as_message(const char *text) {
  return ew_message_of_sentence(text);
}
