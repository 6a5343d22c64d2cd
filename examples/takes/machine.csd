; The drum machine of the example, simulated: record path with one-pole cuts,
; a memory read by three heads with 64-point interpolation, the last head fed
; back, wow on the carrier. make_takes.py sets the macros and runs it.
<CsoundSynthesizer>
<CsOptions>
--nodisplays -W -3
</CsOptions>
<CsInstruments>
sr = 48000
ksmps = 1
nchnls = 1
0dbfs = 1

instr 1
  adry diskin2 "$NOTE", 1, 0, 0, 0, 1
  ; The carrier runs at 1 + e·sin(2πft), so what a head reads was written when it
  ; was that head's way back: to first order in e, D − e/(2πf)·(cos 2πf(t−D) − cos 2πft).
  aturn phasor $WOWHZ
  anow = cos(2 * $M_PI * aturn)
  ireach = $WOW / (2 * $M_PI * $WOWHZ)
  ad2 = $D2 / 1000 - ireach * (cos(2 * $M_PI * (aturn - $WOWHZ * $D2 / 1000)) - anow)
  ad4 = $D4 / 1000 - ireach * (cos(2 * $M_PI * (aturn - $WOWHZ * $D4 / 1000)) - anow)
  ad6 = $D6 / 1000 - ireach * (cos(2 * $M_PI * (aturn - $WOWHZ * $D6 / 1000)) - anow)
  abuf delayr 2
  a2 deltapx ad2, 64
  a4 deltapx ad4, 64
  a6 deltapx ad6, 64
  ; What the heads hear has passed the record path once, and once more each turn.
  arec tone adry + a6 * $LOOP, $HIGHCUT
  arec atone arec, $LOWCUT
  delayw arec
  awet = a2 * $A2 + a4 * $A4 + a6 * $A6
  anoise gauss 1
  out $LEVEL * (adry + awet) + anoise * $NOISE
endin
</CsInstruments>
<CsScore>
i 1 0 $SECONDS
</CsScore>
</CsoundSynthesizer>
