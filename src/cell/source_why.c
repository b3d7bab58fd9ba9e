/* One message an error that is met at a cell; what is not in the table keeps the system's words, which are English. What to look at:
 * common practice, no source. */
#include "cell/source_why.h"
#include "cell/source.h"
#include <errno.h>
#include <glib.h>

EW_MESSAGE(
    refused, "cell.why-refused", EW_CAUTION,
    "nothing answers at that port; see that the device is on, and that host and port are right");
EW_MESSAGE(no_way, "cell.why-no-way", EW_CAUTION,
           "there is no way to that address; see to the cable, and that the address is right");
EW_MESSAGE(timed_out, "cell.why-timed-out", EW_CAUTION,
           "no answer came; see that the device is on, and that host and port are right");
EW_MESSAGE(
    not_there, "cell.why-not-there", EW_CAUTION,
    "it is not there; see that its adapter is plugged in, and by which name it stands under /dev");
EW_MESSAGE(no_right, "cell.why-no-right", EW_CAUTION,
           "this program may not open it; the user it runs as has to be in the group that owns it");
EW_MESSAGE(held, "cell.why-held", EW_CAUTION, "another program holds it; end that one first");

static ew_message *in_its_words(int error) {
  return ew_message(&ew_source_error, ew_say_text("error", g_strerror(error)));
}

ew_message *ew_source_why_peer(int error) {
  switch (error) {
  case ECONNREFUSED: return ew_message_plain(&refused);
  case EHOSTUNREACH:
  case ENETUNREACH:
  case ENETDOWN:
  case EHOSTDOWN: return ew_message_plain(&no_way);
  case ETIMEDOUT: return ew_message_plain(&timed_out);
  }
  return in_its_words(error);
}

ew_message *ew_source_why_device(int error) {
  switch (error) {
  case ENOENT:
  case ENODEV:
  case ENXIO: return ew_message_plain(&not_there);
  case EACCES:
  case EPERM: return ew_message_plain(&no_right);
  case EBUSY: return ew_message_plain(&held);
  }
  return in_its_words(error);
}
