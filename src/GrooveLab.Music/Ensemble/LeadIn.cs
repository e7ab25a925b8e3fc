using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
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

    public static Bar Compose(BarPlace first, RunBand band, IReadOnlyList<Shapes?> shapes, int countPart, Rational droneSeconds)
    {
        var meter = first.Meter;
        var seconds = first.Tempo.Seconds(meter.Length);
        var toneBars = (int)Math.Max(1, (ShortestTone / seconds).Ceiling());
        var tone = Tone(first, band, shapes, meter.Length * toneBars).ToList();
        toneBars = tone.Count > 0 ? toneBars : 0;
        var big = (FeltLevel)Math.Max((int)first.Felt, (int)FeltLevel.Group);
        big = big == FeltLevel.BarGroup ? FeltLevel.Bar : big;
        var bars = (int)Math.Max(FewestBars, (ShortestCount / seconds).Ceiling());
        var inside = new BarGroupPlace(0, 1, 2);
        while (((bars - 1) * big.BeatsIn(meter, inside).Count) + meter.Units < FewestClicks)
        {
            bars++;
        }

        // The drone is not measured: it lasts its seconds whatever the tempo. On paper those are the whole bars that come nearest, and nobody
        // marks them.
        var droneBars = droneSeconds == 0 ? 0 : (int)Math.Max(1, (droneSeconds / seconds).Round());
        var drone = meter.Length * droneBars;
        var length = meter.Length * (droneBars + toneBars + bars);
        var notes = new List<NoteEvent>(Drone(first, band, drone));
        notes.AddRange(tone.Select(note => note with { Onset = note.Onset + drone }));
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
            Tempi = Tempi(first.Tempo, drone, droneSeconds),
            Chords = [new ChordSpan(Span.Zero, length, first.Chords[0].Symbol)],
            Notes = BarDraft.Sorted(notes),
            Controls = [],
        };
    }

    private static (Span Onset, Tempo Tempo)[] Tempi(Tempo tempo, Span drone, Rational droneSeconds)
    {
        if (drone == Span.Zero || tempo.Seconds(drone) == droneSeconds)
        {
            return [(Span.Zero, tempo)];
        }

        return [(Span.Zero, new Tempo(drone.Wholes * 60 / droneSeconds)), (drone, tempo)];
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

    // The chord, and half-way the note on which the tune starts: from everyone who can, whoever plays in the first section, since a singer who
    // begins alone needs them most. The chord is whole: it gives way to the bass and the start note alone.
    private static IEnumerable<NoteEvent> Tone(BarPlace first, RunBand band, IReadOnlyList<Shapes?> shapes, Span length)
    {
        var start = StartNote(first, band);
        var sung = band.Parts.Where(player => player.Role == Role.Tune && start is not null)
            .Select(player => Math.Clamp(start!.Value + (12 * ((TuneSettings)player.Settings).Octaves), 0, 127)).ToHashSet();
        var chord = first.Chords[0].Symbol;
        var taken = new HashSet<int>(sung);
        for (var part = 0; part < band.Parts.Count; part++)
        {
            var player = band.Parts[part];
            if (player.Role == Role.Bass && !chord.IsNoChord)
            {
                var key = band.Plays(part) && band.BassOf(part) is [var bass, ..] && bass.Onset == Span.Zero ? bass.Key : EndingWriter.BassKey(chord, player);
                taken.Add(key);
                yield return Held(part, player, key, Span.Zero, length, 74);
            }
            else if (player.Role == Role.Tune && start is { } note)
            {
                var octaves = 12 * ((TuneSettings)player.Settings).Octaves;
                yield return Held(part, player, Math.Clamp(note + octaves, 0, 127), length / 2, length / 2, 84);
            }
        }

        // Who strums gives the chord; without such a player whoever rolls.
        var strums = band.Parts.Any(player => player.Role == Role.Pulse) ? Role.Pulse : Role.Roll;
        for (var part = 0; part < band.Parts.Count; part++)
        {
            if (band.Parts[part].Role == strums)
            {
                // The start note is the singer's alone, and nobody strums what another has.
                var shape = shapes[part]!.Fullest(chord, first.Run.Key, taken);
                foreach (var held in shape.Notes.Where(note => taken.Add(note.Key)))
                {
                    yield return Held(part, band.Parts[part], held.Key, Span.Zero, length, 70) with { String = held.String };
                }
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
        // Whoever sings needs it, whether or not a player of the tune plays along.
        return first.Run.Section.Tune is { Notes: [var note, ..] } ? note.Pitch.Midi
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
                if (band.Parts[part].Role == Role.Tune && band.Plays(part))
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
