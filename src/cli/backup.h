/* Who may read what is written of a book: its owner alone, unless asked otherwise. */
#pragma once
#include <glib.h>

#define EW_OPTION_SHARED                                                                           \
  { "shared", NULL, EW_TEXT("others on this machine may read it too, as the umask has it"), FALSE }
gboolean ew_share_file(const char *path, GError **error);
