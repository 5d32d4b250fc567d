from django.urls import path

from buildlog.views import capture, captured, hours, sessions, timers, tray, versions

app_name = "buildlog"
urlpatterns = [
    path("capture/", capture.capture, name="capture"),
    path("capture/<slug:key>/", capture.capture, name="capture_on"),
    path("kept/", capture.kept, name="kept"),
    path("sessions/", sessions.sessions, name="sessions"),
    path("sessions/new/", sessions.session_new, name="session_new"),
    path("sessions/<str:key>/", sessions.session, name="session"),
    path("sessions/<str:key>/edit/", sessions.session_edit, name="session_edit"),
    path("sessions/<str:key>/withdraw/", sessions.session_withdraw, name="session_withdraw"),
    path("versions/<str:key>/", versions.version, name="version"),
    path("captured/", captured.captured, name="captured"),
    path("captured/known/", captured.known, name="captured_known"),
    path("captured/piece/", captured.piece, name="captured_piece"),
    path("timer/start/", timers.timer_start, name="timer_start"),
    path("timer/<str:key>/stop/", timers.timer_stop, name="timer_stop"),
    path("timer/<str:key>/break/", timers.timer_break, name="timer_break"),
    path("timer/<str:key>/on/", timers.timer_on, name="timer_on"),
    path("timer/<str:key>/join/", timers.timer_join, name="timer_join"),
    path("timer/<str:key>/leave/", timers.timer_leave, name="timer_leave"),
    path("timer/<str:key>/photo/", timers.timer_photo, name="timer_photo"),
    path("tray/", tray.tray, name="tray"),
    path("hours/", hours.hours, name="hours"),
    path("hours/hours.csv", hours.hours_csv, name="hours_csv"),
]
