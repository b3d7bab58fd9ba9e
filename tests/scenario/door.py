"""What a browser of this machine does with the link that `serve` prints: exchanges its key for the cookie that lets it in."""
import http.client
import json


def let_in(said, context=None):
    """The Cookie header of this machine's person, by the link of `serve --json`."""
    if context:
        connection = http.client.HTTPSConnection("127.0.0.1", said["port"], timeout=60, context=context)
    else:
        connection = http.client.HTTPConnection("127.0.0.1", said["port"], timeout=60)
    connection.request("POST", "/api/v1/open", json.dumps({"key": said["link"].split("key=")[1]}), {"Content-Type": "application/json"})
    answer = connection.getresponse()
    answer.read()
    connection.close()
    if answer.status != 200:
        raise RuntimeError(f"the printed link opens nothing: {answer.status}")
    return answer.getheader("Set-Cookie").split(";")[0]
