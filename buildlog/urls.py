from django.urls import path

from buildlog.views import hours, sessions, timers

app_name = "buildlog"
urlpatterns = [
    path("sessions/", sessions.sessions, name="sessions"),
    path("sessions/new/", sessions.session_new, name="session_new"),
    path("sessions/<str:key>/", sessions.session, name="session"),
    path("sessions/<str:key>/edit/", sessions.session_edit, name="session_edit"),
    path("sessions/<str:key>/withdraw/", sessions.session_withdraw, name="session_withdraw"),
    path("timer/start/", timers.timer_start, name="timer_start"),
    path("timer/<str:key>/stop/", timers.timer_stop, name="timer_stop"),
    path("timer/<str:key>/break/", timers.timer_break, name="timer_break"),
    path("timer/<str:key>/on/", timers.timer_on, name="timer_on"),
    path("timer/<str:key>/join/", timers.timer_join, name="timer_join"),
    path("timer/<str:key>/leave/", timers.timer_leave, name="timer_leave"),
    path("timer/<str:key>/photo/", timers.timer_photo, name="timer_photo"),
    path("timer/<str:key>/photo/send/", timers.timer_photo_send, name="timer_photo_send"),
    path("hours/", hours.hours, name="hours"),
    path("hours/hours.csv", hours.hours_csv, name="hours_csv"),
]
