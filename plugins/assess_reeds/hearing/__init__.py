"""Hearing reeds: a recording of keys played upwards becomes rows of the reed survey.

Each module imports only those before it: ``wav_files`` reads sound, ``sound_files`` decodes other
formats, ``segments`` finds where notes are, ``fundamentals`` finds which pitch a piece of sound
has, ``partials`` measures it, ``qualities`` says how the reed speaks, ``naming`` finds out which
key each note was, and ``listening`` puts all of it together. They load numpy, so only the hook that
hears imports them. Limits without a source beside them are estimates from memory.
"""
