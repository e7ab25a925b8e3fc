using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The lead-in before the first bar line: the chord and the singer's first note, then the count. The big beats first; the last
/// bar shows groups and units, unless the units are too fast to count one by one (<see cref="FormPlan.QuickUnit"/>); a pickup sounds inside
/// it.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class LeadIn
{
    private const int FewestBars = 2;
    private const int FewestClicks = 4;

    private static readonly Rational ShortestCount = 3;
    private static readonly Rational ShortestTone = new(3, 2);

    public static Bar Compose(BarPlace first, RunBand band, IReadOnlyList<ChordShapes?> shapes, int countPart, Rational droneSeconds)
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
        var shown = first.Tempo.Seconds(meter.Unit) < FormPlan.QuickUnit ? big : FeltLevel.Unit;
        while (((bars - 1) * big.BeatsIn(meter, inside).Count) + shown.BeatsIn(meter, inside).Count < FewestClicks)
        {
            bars++;
        }

        // A pickup longer than a bar begins in the lead-in too.
        if (first.IndexInRun == 0 && first.Run.Section.Tune?.PickupLength is { } pickup)
        {
            bars = (int)Math.Max(bars, (pickup / meter.Length).Ceiling());
        }

        // The drone is unmeasured: it lasts its seconds at any tempo. On paper it is the nearest number of whole bars, without a count.
        var droneBars = droneSeconds == 0 ? 0 : (int)Math.Max(1, (droneSeconds / seconds).Round());
        var drone = meter.Length * droneBars;
        var length = meter.Length * (droneBars + toneBars + bars);
        var notes = new List<NoteEvent>(Drone(first, band, drone));
        notes.AddRange(tone.Select(note => Later(note, drone)));
        for (var bar = 0; bar < bars; bar++)
        {
            var level = bar == bars - 1 ? shown : big;
            var place = first with { GroupPlace = inside };
            var line = meter.Length * (droneBars + toneBars + bar);
            notes.AddRange(CountWriter.Clicks(countPart, place, level.BeatsIn(meter, inside)).Select(click => Later(click, line)));
        }

        if (first.IndexInRun == 0)
        {
            notes.AddRange(Pickup(first, band, length));
        }

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
            Playing = first.Run.Verse,
            Tasks = BarTasks.None(band.Parts.Count),
            Key = first.Run.Key,
            Swing = Swing.Straight,
            Tempi = Tempi(first.Tempo, drone, droneSeconds),
            Chords = [new ChordSpan(Span.Zero, length, first.Chords[0].Symbol)],
            Notes = BarDraft.Sorted(notes),
            Controls = [.. Swells(first, band, length)],
        };
    }

    private static NoteEvent Later(NoteEvent note, Span by) =>
        note with { Onset = note.Onset + by, Written = note.Written with { Onset = note.Written.Onset + by } };

    private static (Span Onset, Tempo Tempo)[] Tempi(Tempo tempo, Span drone, Rational droneSeconds)
    {
        if (drone == Span.Zero || tempo.Seconds(drone) == droneSeconds)
        {
            return [(Span.Zero, tempo)];
        }

        return [(Span.Zero, new Tempo(drone.Wholes * 60 / droneSeconds)), (drone, tempo)];
    }

    // Tonic and fifth, held by the parts that can hold; without such a part by the pulse.
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

            var keys = new[] { low, low + 7 }.Where(key => key <= player.Instrument.Highest).ToArray();
            for (var i = 0; i < keys.Length; i++)
            {
                yield return Held(part, player, first.Run.Key.SpellPitch(keys[i]), Span.Zero, length, 60, Member(i, keys.Length));
            }
        }
    }

    // The chord, and half-way the note on which the tune starts: from all parts that can play them, even those that rest in the first
    // section, since a singer who begins alone needs them most. The chord is full: it avoids only the bass and the start note.
    private static IEnumerable<NoteEvent> Tone(BarPlace first, RunBand band, IReadOnlyList<ChordShapes?> shapes, Span length)
    {
        var start = StartNote(first, band);
        var sung = band.Parts.Where(player => player.Role == Role.Tune && start is not null)
            .Select(player => StartNoteOf(player, start!.Value).Midi).ToHashSet();
        var chord = first.Chords[0].Symbol;
        var taken = new HashSet<int>(sung);
        for (var part = 0; part < band.Parts.Count; part++)
        {
            var player = band.Parts[part];
            if (player.Role == Role.Bass && !chord.IsNoChord)
            {
                var key = first.IndexInRun == 0 && band.Plays(part) && band.BassOf(part) is [{ Note: var bass }, ..] && bass.Onset == Span.Zero ? bass.Key : EndingWriter.BassKey(chord, player);
                taken.Add(key);
                yield return Held(part, player, Spelling.Of(key, first.Run.Key, chord), Span.Zero, length, 74);
            }
            else if (player.Role == Role.Tune && start is { } note)
            {
                yield return Held(part, player, StartNoteOf(player, note), length / 2, length / 2, 84);
            }
        }

        // Strumming parts play the chord; without one, the rolls do.
        var strums = band.Parts.Any(player => player.Role == Role.Pulse) ? Role.Pulse : Role.Roll;
        for (var part = 0; part < band.Parts.Count; part++)
        {
            if (band.Parts[part].Role == strums)
            {
                // The start note belongs to the singer, and strums do not double the keys of other parts.
                var shape = shapes[part]!.Fullest(chord, first.Run.Key, taken);
                var free = shape.Notes.Where(note => taken.Add(note.Key)).ToArray();
                for (var i = 0; i < free.Length; i++)
                {
                    var pitch = Spelling.Of(free[i].Key, first.Run.Key, chord);
                    yield return Held(part, band.Parts[part], pitch, Span.Zero, length, 70, Member(i, free.Length)) with { String = free[i].String };
                }
            }
        }
    }

    private static NoteEvent Held(int part, Part player, Pitch pitch, Span onset, Span length, int velocity, ChordMember? chord = null) => new()
    {
        Part = part,
        Role = player.Role,
        Onset = onset,
        Length = length,
        Key = pitch.Midi,
        Velocity = velocity,
        Written = new WrittenOrigin { Pitch = pitch, Onset = onset, Length = length, Chord = chord },
    };

    private static ChordMember? Member(int index, int count) => count > 1 ? new ChordMember(index + 1, count) : null;

    // The start note as a part plays it: a part with a lower or higher line in the nearest octave of its instrument.
    private static Pitch StartNoteOf(Part player, Pitch start)
    {
        const int farthest = 10;
        var octave = start.Octave + ((TuneSettings)player.Settings).Octaves;
        var pitches = Enumerable.Range(-farthest, (2 * farthest) + 1).OrderBy(Math.Abs).Select(octaves => start with { Octave = octave + octaves }).ToList();
        return pitches.Where(pitch => pitch.Midi >= player.Instrument.Lowest && pitch.Midi <= player.Instrument.Highest)
            .Concat(pitches.Where(pitch => pitch.Midi is >= 0 and <= 127)).First();
    }

    private static Pitch? StartNote(BarPlace first, RunBand band)
    {
        // The singer needs it, with or without a tune part. In the middle of a section: the next note of the tune.
        var into = first.Start - first.Run.Start;
        bool IsAhead(Span onset) => first.IndexInRun == 0 || onset >= into;
        return first.Run.Section.Tune is { Notes.Count: > 0 } tune ? tune.Notes.Where(note => IsAhead(note.Onset)).Select(note => (Pitch?)note.Pitch).FirstOrDefault()
            : band.Tune.Notes.Where(note => IsAhead(note.Note.Onset)).Select(note => (Pitch?)note.Written.Pitch).FirstOrDefault();
    }

    private static IEnumerable<ControlPoint> Swells(BarPlace first, RunBand band, Span length)
    {
        for (var part = 0; part < band.Parts.Count; part++)
        {
            if (band.Parts[part].Role == Role.Tune && TuneSwell.Has(band.Parts[part]))
            {
                yield return TuneSwell.Full(part);
                var lines = first.IndexInRun == 0 ? TunePlayers.LinesOf(first.Run.Section, band.Parts, part) : [];
                foreach (var sung in lines.Take(1).SelectMany(line => TuneLine.PickupOf(first.Run, line, first.Tempo, phrased: true)))
                {
                    foreach (var point in TuneSwell.Of(part, length + sung.Note.Onset, sung.Note.Length, first.Tempo).Where(point => point.Onset >= Span.Zero && point.Onset < length))
                    {
                        yield return point;
                    }
                }
            }
        }
    }

    private static IEnumerable<NoteEvent> Pickup(BarPlace first, RunBand band, Span length)
    {
        for (var part = 0; part < band.Parts.Count; part++)
        {
            var played = new List<TuneLineNote>();
            foreach (var line in TunePlayers.LinesOf(first.Run.Section, band.Parts, part))
            {
                var pickup = TuneLine.Beside(TuneLine.PickupOf(first.Run, line, first.Tempo, ((TuneSettings)band.Parts[part].Settings).Phrasing), played);
                played.AddRange(pickup);
                foreach (var sung in pickup.Where(sung => length + sung.Note.Onset >= Span.Zero))
                {
                    foreach (var note in TuneWriter.Notes(sung, part, band.Parts[part], length + sung.Note.Onset, 0, first.Tempo, band.Outline))
                    {
                        yield return note;
                    }
                }
            }
        }
    }
}
