/* The HTTP server: libmicrohttpd inside GLib's main loop.
 *
 *   connection --headers--> admitted? --body--> whole request --> queue's thread --> reply
 *                  | no: refused at once            | /api/v1/events: an open stream of events
 *
 * Limits, so that no peer can hold the server up: 192 connections from other machines, 64 of them from one address, and 64 of this
 * machine, where a newcomer takes the place of one that proved nothing, else of the oldest; 32 kB of header, bodies of 1 MB (64 MB for a recording or an attached file), 15 s of silence, and 10 s in all for a request's
 * header and 60 s for its body, however slowly they trickle in. A reader of events that does not
 * read loses frames, and its connection after 5 s.
 *
 * Handlers run in queues, a thread each, one after the other and the holders in turn (fair.h): what steers a session waits for
 * nothing that is asked of the book, the book has one writer, and the loop stays free for the live stream. Everything else happens in the
 * thread of the main loop. */
#pragma once
#include "serve/guard.h"
#include "serve/request.h"

struct ew_http;
/* In the thread of that queue. */
typedef void (*ew_http_answers)(struct ew_request *request, struct ew_reply *reply, guint queue,
                                gpointer user);
/* Which queue a request waits in: 1 to `queues`, or 0: it is answered at once in the main thread, and may wait for nothing. */
typedef guint (*ew_http_queue)(const struct ew_request *request, gpointer user);
/* Called before the body is read: may this peer ask this at all? Settles who it is (`from_here`). Returns 0, or
 * the status of the refusal with `why`. In the main thread. */
typedef guint (*ew_http_admits)(struct ew_request *request, const char **why, gpointer user);

struct ew_http_options {
  guint port; /* 0: any free one */
  gboolean lan;
  const char *certificate, *key; /* PEM text for TLS; both or neither */
  const char *spool_folder;      /* where long bodies wait while they come in */
  ew_http_admits admits;
  ew_http_answers answers;
  ew_http_queue queue_of;
  guint queues;
  gpointer user;
  /* For customers' links (share.h): nothing but GET and HEAD without a body, no stream of events, and an answer that is not fetched
   * in REPLY_S ends. */
  gboolean reads_only;
  const char *public_name; /* see guard.h */
};

struct ew_http *ew_http_start(const struct ew_http_options *options, GError **error);
/* Waits for requests under way, ends the event streams, frees. */
void ew_http_stop(struct ew_http *http);
guint ew_http_port(const struct ew_http *http);
/* One event to every open stream: `data` is one line. From the main thread only. */
void ew_http_publish(struct ew_http *http, const char *event, const char *data);
/* The same to each viewer in the language of its request: `write` is called once for each language that a viewer has, with it
 * as the thread's, apart for the person at this machine (`here`), and its text is freed. O(viewers squared), of which there are few. */
void ew_http_publish_each(struct ew_http *http, const char *event,
                          char *(*write)(gpointer user, gboolean here), gpointer user);
guint ew_http_viewers(const struct ew_http *http);
