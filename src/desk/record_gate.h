/* What the build record says before an engine may be loaded, for a live session that must not wait for
 * the disk: a thread of its own looks whenever the record may have changed, and keeps the answer. */
#pragma once
#include "base/message.h"

struct ew_book;
struct ew_gate;
/* Which steps before load are open in the engine's build; *why NULL when none is. The caller frees it. */
gboolean ew_gate_look(struct ew_book *book, gint64 engine_id, ew_message **why, GError **error);
/* From the gate's thread, when the answer has changed; `why` NULL: no step is open any more. */
typedef void (*ew_gate_says)(const ew_message *why, gpointer user);

/* Looks once before it returns. NULL with *error when the record cannot be read. */
struct ew_gate *ew_gate_open(const char *book_path, gint64 engine_id, ew_gate_says says,
                             gpointer user, GError **error);
void ew_gate_close(struct ew_gate *gate);
/* Why the engine may not be loaded: a copy, or NULL: nothing in the way, or no build is kept of it.
 * Waits for nothing but the copying of a message. */
ew_message *ew_gate_why(struct ew_gate *gate);
