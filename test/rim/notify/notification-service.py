"""A notification service (Desktop Notifications Specification 1.2) by dbus-python, the reference binding of D-Bus.

Arguments: the bus's address, and a folder. It appends each call of Notify to FOLDER/calls, a line of JSON each, and answers as
the file FOLDER/how says: takes, refuses, later, never. FOLDER/capabilities has its capabilities, a word each.
"""
import json
import sys

import dbus
import dbus.mainloop.glib
import dbus.service
from gi.repository import GLib

address, folder = sys.argv[1:]
NAME = 'org.freedesktop.Notifications'


def written(name):
    with open(f'{folder}/{name}', encoding='utf-8') as file:
        return file.read().split()


class Service(dbus.service.Object):
    last = 0

    @dbus.service.method(NAME, in_signature='', out_signature='as')
    def GetCapabilities(self):
        return dbus.Array(written('capabilities'), signature='s')

    @dbus.service.method(NAME, in_signature='susssasa{sv}i', out_signature='u', async_callbacks=('done', 'failed'))
    def Notify(self, app, replaces, icon, summary, body, actions, hints, expires, done, failed):
        call = dict(app=app, replaces=replaces, icon=icon, summary=summary, body=body, actions=actions, expires=expires)
        with open(f'{folder}/calls', 'a', encoding='utf-8') as file:
            file.write(json.dumps({**call, 'urgency': int(hints['urgency']), 'id': hints['x-headroomd-message']}) + '\n')
        how = written('how')[0]
        if how == 'takes':
            self.last = int(replaces) or self.last + 1
            done(dbus.UInt32(self.last))
        elif how == 'refuses':
            failed(dbus.DBusException('no', name='org.freedesktop.DBus.Error.AccessDenied'))
        elif how == 'later':
            failed(dbus.DBusException('busy', name='org.freedesktop.DBus.Error.LimitsExceeded'))


dbus.mainloop.glib.DBusGMainLoop(set_as_default=True)
bus = dbus.bus.BusConnection(address)
name = dbus.service.BusName(NAME, bus)
service = Service(name, '/org/freedesktop/Notifications')
print('ready', flush=True)
GLib.MainLoop().run()
