"""Where feeds come from: files, watched folders, HTTP(S), UDP and TCP, polled by one process."""
