using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Score;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>
/// What comes before the first bar line: the chord and the singer's first note, then the count. Big beats first; the last bar shows
/// groups and units; a pickup sounds inside it.
/// </summary>
/// <remarks>Common practice, no source.</remarks>
internal static class LeadIn
{
    private const int FewestBars = 2;
    private const int FewestClicks = 4;

    private static readonly Rational ShortestCount = 3;
    private static readonly Rational ShortestTone = new(3, 2);

    public static Bar Compose(BarPlace first, RunBand band, int countPart, Rational droneSeconds)
    {
        var meter = first.Meter;
        var seconds = first.Tempo.Seconds(meter.Length);
        var toneBars = (int)Math.Max(1, (ShortestTone / seconds).Ceiling());
        var big = (FeltLevel)Math.Max((int)first.Felt, (int)FeltLevel.Group);
        big = big == FeltLevel.BarGroup ? FeltLevel.Bar : big;
        var bars = (int)Math.Max(FewestBars, (ShortestCount / seconds).Ceiling());
        var inside = new BarGroupPlace(0, 1, 2);
        while (((bars - 1) * big.BeatsIn(meter, inside).Count) + meter.Units < FewestClicks)
        {
            bars++;
        }

        // The drone is not measured: it lasts as many whole bars as come nearest to its seconds, and nobody marks them.
        var droneBars = droneSeconds == 0 ? 0 : (int)Math.Max(1, (droneSeconds / seconds).Round());
        var drone = meter.Length * droneBars;
        var length = meter.Length * (droneBars + toneBars + bars);
        var notes = new List<NoteEvent>(Drone(first, band, drone));
        notes.AddRange(Tone(first, band, meter.Length * toneBars).Select(note => note with { Onset = note.Onset + drone }));
        for (var bar = 0; bar < bars; bar++)
        {
            var level = bar == bars - 1 ? FeltLevel.Unit : big;
            var place = first with { GroupPlace = inside };
            foreach (var beat in level.BeatsIn(meter, inside))
            {
                var click = CountWriter.Click(countPart, place, beat);
                notes.Add(click with { Onset = (meter.Length * (droneBars + toneBars + bar)) + beat });
            }
        }

        notes.AddRange(Pickup(first, band, length));
        return new Bar
        {
            Index = -1,
            Start = first.Start - length,
            Length = length,
            Meter = meter,
            Felt = first.Felt,
            GroupPlace = inside,
            Section = first.Run.Section.Name,
            IndexInSection = -1,
            Tempi = [(Span.Zero, first.Tempo)],
            Chords = [new ChordSpan(Span.Zero, length, first.Chords[0].Symbol)],
            Notes = BarDraft.Sorted(notes),
            Controls = [],
        };
    }

    // Tonic and fifth, held by whoever can hold; without such a player by the pulse.
    private static IEnumerable<NoteEvent> Drone(BarPlace first, RunBand band, Span length)
    {
        if (length == Span.Zero)
        {
            yield break;
        }

        var holders = Enumerable.Range(0, band.Parts.Count).Where(part => band.Parts[part].Role == Role.Sustain).ToList();
        if (holders.Count == 0)
        {
            holders = [.. Enumerable.Range(0, band.Parts.Count).Where(part => band.Parts[part].Role == Role.Pulse)];
        }

        var tonic = first.Run.Key.Tonic.PitchClass;
        foreach (var part in holders)
        {
            var player = band.Parts[part];
            var low = player.Lowest;
            while (low % 12 != tonic)
            {
                low++;
            }

            foreach (var key in new[] { low, low + 7 }.Where(key => key <= player.Instrument.Highest))
            {
                yield return Held(part, player, key, Span.Zero, length, 60);
            }
        }
    }

    // The chord, and half-way the note on which the tune starts.
    private static IEnumerable<NoteEvent> Tone(BarPlace first, RunBand band, Span length)
    {
        var start = StartNote(first, band);
        var sung = band.Parts.Where(player => player.Role == Role.Tune && start is not null)
            .Select(player => start!.Value + (12 * ((TuneSettings)player.Settings).Octaves)).ToHashSet();
        for (var part = 0; part < band.Parts.Count; part++)
        {
            var player = band.Parts[part];
            if (!band.Plays(part))
            {
                continue;
            }

            switch (player.Role)
            {
                case Role.Pulse:
                    // The start note is the singer's alone.
                    foreach (var held in band.ShapesOf(part)[0].Notes.Where(note => !sung.Contains(note.Key)))
                    {
                        yield return Held(part, player, held.Key, Span.Zero, length, 70) with { String = held.String };
                    }

                    break;
                case Role.Bass when band.BassOf(part) is [var bass, ..] && bass.Onset == Span.Zero:
                    yield return Held(part, player, bass.Key, Span.Zero, length, 74);
                    break;
                case Role.Tune when start is { } note:
                    var octaves = 12 * ((TuneSettings)player.Settings).Octaves;
                    yield return Held(part, player, Math.Clamp(note + octaves, 0, 127), length / 2, length / 2, 84);
                    break;
            }
        }
    }

    private static NoteEvent Held(int part, Part player, int key, Span onset, Span length, int velocity) => new()
    {
        Part = part,
        Role = player.Role,
        Onset = onset,
        Length = length,
        Key = key,
        Velocity = velocity,
    };

    private static int? StartNote(BarPlace first, RunBand band)
    {
        var pickup = TuneLine.PickupOf(first.Run);
        return pickup.Count > 0 ? pickup[0].Note.Key
            : band.Tune.Notes.Count > 0 ? band.Tune.Notes[0].Note.Key
            : null;
    }

    private static IEnumerable<NoteEvent> Pickup(BarPlace first, RunBand band, Span length)
    {
        foreach (var sung in TuneLine.PickupOf(first.Run))
        {
            var onset = length + sung.Note.Onset;
            for (var part = 0; part < band.Parts.Count && onset >= Span.Zero; part++)
            {
                if (band.Parts[part].Role == Role.Tune)
                {
                    foreach (var note in TuneWriter.Notes(sung, part, band.Parts[part], onset, 0, first.Tempo, band.Outline.Run.Key))
                    {
                        yield return note;
                    }
                }
            }
        }
    }
}
