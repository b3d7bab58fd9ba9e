/* What a message is made of, for the files that make, show and read it: src/base/message*.c. */
#pragma once
#include "base/message.h"

#define EW_MESSAGE_ARGUMENTS_MOST 16

struct ew_message {
  const struct ew_message_kind *kind; /* NULL: not known to this program */
  char *id, *subject;
  GArray *arguments; /* struct ew_argument, all its pointers owned but the word's */
};

/* Without arguments yet. kind NULL: not known to this program. */
ew_message *ew_message_begin(const struct ew_message_kind *kind, const char *id);
/* One argument more, copied. */
void ew_message_take(ew_message *message, const struct ew_argument *argument);
/* Each place of its text has its argument and each argument its place, in one of the forms. */
gboolean ew_message_fits(const ew_message *message);
