"""The desk: the program in a browser of this machine, for whoever does not edit a file.

    file, log <-> draft -> worker process -> answers -> every window
                  session, app, guard, server: the process that the windows ask

Files stay the truth. The server process reads and checks the file, never computes, and never
imports NumPy; one worker process keeps the rest loaded.
"""
