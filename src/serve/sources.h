/* Sources of samples that were named on this machine: a far device starts these and no other, so that it cannot make this
 * program knock at doors that only this machine reaches, or open a serial line.
 *
 * Named by `serve --source`, or by the person at this machine who started one from the page; those are kept in a file
 * of the machine, the last 32. The invented engine in its plain forms may always be started. Thread-safe. */
#pragma once
#include "base/json_writer.h"

struct ew_sources;                                           /* opaque */
struct ew_sources *ew_sources_new(const char *const *given); /* may be NULL */
void ew_sources_free(struct ew_sources *sources);
gboolean ew_sources_knows(struct ew_sources *sources, const char *url);
/* Named by the person at this machine. What cannot be kept is known until this start ends. */
void ew_sources_name(struct ew_sources *sources, const char *url);
/* Whether the page may ask for it by its address, on this machine: a line or a bus that is there, but no file of it. Those, and what has a
 * map, are put together field by field (api_source.c), which names them. */
gboolean ew_source_is_plain(const char *url);
/* The list "named" into an open object. */
void ew_sources_write_json(struct ew_sources *sources, struct ew_json *json);
