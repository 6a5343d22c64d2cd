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
  aback init 0
  ; What the heads hear has passed the record path once, and once more each turn.
  arec tone adry + aback, $HIGHCUT
  arec atone arec, $LOWCUT
  amove oscili $WOW, $WOWHZ
  abuf delayr 2
  a2 deltapx ($D2 / 1000) * (1 + amove), 64
  a4 deltapx ($D4 / 1000) * (1 + amove), 64
  a6 deltapx ($D6 / 1000) * (1 + amove), 64
  delayw arec
  aback = a6 * $LOOP
  awet = a2 * $A2 + a4 * $A4 + a6 * $A6
  anoise gauss 1
  out $LEVEL * (adry + awet) + anoise * $NOISE
endin
</CsInstruments>
<CsScore>
i 1 0 $SECONDS
</CsScore>
</CsoundSynthesizer>
