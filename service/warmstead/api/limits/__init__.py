"""What keeps the service answering whatever it is sent: heads, bodies, connections and requests at hand."""
