/* Const stays on: what must vary is copied. This is the one exception, for interfaces that are declared without const and only
 * pass on or read: containers and lists of words of GLib, user data of callbacks that is read, free, and texts in a row
 * that is only written from. */
#pragma once
#include <glib.h>

static inline gpointer ew_as_pointer(gconstpointer only_read) {
  return (gpointer)(gsize)only_read;
}
