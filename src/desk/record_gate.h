/* What the build record says before an engine may be loaded, for a live session that must not wait for
 * the disk: a thread of its own looks whenever the record may have changed, and keeps the answer. */
#pragma once
#include <glib.h>

struct ew_book;
struct ew_gate;
/* What stands open before load in the engine's build, in words; *why NULL when nothing does. */
gboolean ew_gate_look(struct ew_book *book, gint64 engine_id, char **why, GError **error);
/* From the gate's thread, when the answer has changed; `why` NULL: nothing stands open any more. */
typedef void (*ew_gate_says)(const char *why, gpointer user);

/* Looks once before it returns. NULL with *error when the record cannot be read. */
struct ew_gate *ew_gate_open(const char *book_path, gint64 engine_id, ew_gate_says says,
                             gpointer user, GError **error);
void ew_gate_close(struct ew_gate *gate);
/* Why the engine may not be loaded: a copy, or NULL: nothing in the way, or no build is kept of it.
 * Waits for nothing but the copying of a text. */
char *ew_gate_why(struct ew_gate *gate);
