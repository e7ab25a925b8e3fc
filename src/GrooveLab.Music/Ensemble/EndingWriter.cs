using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes the last bar: one downbeat for all, ringing on.</summary>
internal static class EndingWriter
{
    /// <summary>Writes it, with each note as long as <paramref name="ring"/>.</summary>
    public static void Write(BarDraft draft, IReadOnlyList<ChordShapes?> shapes, ChordSymbol chord, Span ring)
    {
        var band = draft.Band;
        var key = band.Outline.Run.Key;
        var taken = new HashSet<int>();
        var sung = !chord.IsNoChord && band.Tune.Notes.Count > 0;
        for (var part = 0; part < band.Parts.Count; part++)
        {
            if (band.Parts[part].Role == Role.Bass && band.Plays(part) && !chord.IsNoChord)
            {
                var bass = BassKey(chord, band.Parts[part]);
                taken.Add(bass);
                Hold(draft, part, band.Parts[part], bass, BassLine.BaseVelocity + 10, ring);
            }
        }

        // The tune takes its note before the other lines.
        var players = Enumerable.Range(0, band.Parts.Count).Where(part => sung && band.Parts[part].Role == Role.Tune && band.Plays(part)).ToList();
        foreach (var (part, line) in players.SelectMany(part => EndsOf(band, part).Select(line => (part, line))).OrderBy(end => end.line is not null))
        {
            if (LastKey(band, part, line, chord, taken) is { } last)
            {
                taken.Add(last);
                Hold(draft, part, band.Parts[part], last, TuneLine.BaseVelocity + 4, ring);
                if (TuneSwell.Has(band.Parts[part]))
                {
                    var full = TuneSwell.Full(part);
                    draft.AddControl(part, Role.Tune, full.Onset, full.Controller, full.Value, 0);
                }
            }
        }

        for (var part = 0; part < band.Parts.Count; part++)
        {
            if (band.Parts[part].Role == Role.Sustain && band.Plays(part) && !chord.IsNoChord)
            {
                WriteSustain(draft, part, chord, taken, ring);
            }
        }

        for (var part = 0; part < band.Parts.Count; part++)
        {
            var role = band.Parts[part].Role;
            if (role is not (Role.Pulse or Role.Roll) || !band.Plays(part))
            {
                continue;
            }

            var shape = FreeShape(shapes[part]!, band.ShapesOf(part)[^1], band.Parts[part], chord, key, taken);
            taken.UnionWith(shape.Keys);
            if (role == Role.Pulse)
            {
                PulseWriter.WriteHit(draft, part, shape, ring);
            }
            else
            {
                RollWriter.WriteEnding(draft, part, shape, ring);
            }
        }
    }

    // Without keys that others hold: the next shape, else the one that keeps most, else one free tone on any string.
    private static ChordShape FreeShape(ChordShapes shapes, ChordShape before, Part player, ChordSymbol chord, Key key, HashSet<int> taken)
    {
        var next = ChordShapes.Without(shapes.Next(before.Keys, chord, key, taken), taken);
        if (!next.Keys.Any(taken.Contains))
        {
            return next;
        }

        var fullest = shapes.Fullest(chord, key, taken);
        var left = ChordShapes.Without(fullest, taken);
        if (!left.Keys.Any(taken.Contains))
        {
            return left;
        }

        var held = KeySet.Of(taken);
        return (Clearance.Move(player, fullest.Notes[^1], fullest, chord, KeySet.None, held, held)
            ?? Clearance.Elsewhere(player, fullest.Notes[^1], 0, fullest, chord, KeySet.None, held, held)) is { } free ? new ChordShape([free]) : left;
    }

    private static void WriteSustain(BarDraft draft, int part, ChordSymbol chord, HashSet<int> taken, Span ring)
    {
        var player = draft.Band.Parts[part];
        var before = draft.Band.SustainOf(part).Notes;
        var voices = ((SustainSettings)player.Settings).Voices;
        var ends = before.Count > 0 ? before.Max(note => note.Note.End) : Span.Zero;
        var held = before.Where(note => note.Note.End == ends).Select(note => note.Note.Key).Take(voices).ToList();
        if (held.Count == 0)
        {
            held.Add((player.Lowest + player.Highest) / 2);
        }

        var voice = 0;
        foreach (var from in held.Order())
        {
            var to = Enumerable.Range(player.Lowest, player.Highest - player.Lowest + 1)
                .Where(key => chord.Tones.Contains(key) && !taken.Contains(key))
                .Where(key => taken.All(other => Math.Min(other, key) >= Voicings.LowIntervalLimit || Math.Abs(other - key) >= 5))
                .OrderBy(key => Math.Abs(key - from)).ThenBy(key => key)
                .Cast<int?>()
                .FirstOrDefault();
            if (to is { } key)
            {
                taken.Add(key);
                Hold(draft, part, player, key, SustainLine.BaseVelocity + 8, ring, voice++);
            }
        }

        draft.AddControl(part, Role.Sustain, Span.Zero, 11, 110, 0);
    }

    private static void Hold(BarDraft draft, int part, Part player, int key, int velocity, Span ring, int voice = 0) => draft.Add(
        new NoteEvent
        {
            Part = part,
            Role = player.Role,
            Onset = Span.Zero,
            Length = ring,
            Key = key,
            Velocity = velocity,
            Written = new WrittenOrigin { Pitch = draft.Spell(key, Span.Zero), Onset = Span.Zero, Length = ring, Voice = voice },
        },
        0);

    // The last notes of the further lines that a part plays; null for the tune itself, which a part also ends that has no line.
    private static IReadOnlyList<TuneLineNote?> EndsOf(RunBand band, int part)
    {
        var ends = new List<TuneLineNote?>();
        foreach (var line in TunePlayers.LinesOf(band.Outline.Run.Section, band.Parts, part))
        {
            var last = band.TunesOf(part).SelectMany(tune => tune.Notes).LastOrDefault(note => note.Written.Tune?.Line == line);
            if (line == 0 || last.Written is not null)
            {
                ends.Add(line == 0 ? null : last);
            }
        }

        return ends.Count == 0 ? [null] : ends;
    }

    // The tune ends on the nearest root; a further line on the nearest note of the chord that no other part holds.
    private static int? LastKey(RunBand band, int part, TuneLineNote? line, ChordSymbol chord, HashSet<int> taken)
    {
        var player = band.Parts[part];
        var from = (line ?? band.Tune.Notes[^1]).Note.Key + (12 * ((TuneSettings)player.Settings).Octaves);
        return Enumerable.Range(0, 128)
            .Where(key => line is null ? key % 12 == chord.Root.PitchClass : chord.Tones.Contains(key) && !taken.Contains(key))
            .OrderBy(key => key < player.Instrument.Lowest || key > player.Instrument.Highest).ThenBy(key => Math.Abs(key - from)).ThenBy(key => key)
            .Cast<int?>()
            .FirstOrDefault();
    }

    public static int BassKey(ChordSymbol chord, Part player)
    {
        var keys = Enumerable.Range(player.Instrument.Lowest, player.Instrument.Highest - player.Instrument.Lowest + 1)
            .Where(key => key % 12 == chord.Bass.PitchClass).ToArray();
        var inRegister = keys.Where(key => key >= player.Lowest && key <= player.Highest).ToArray();
        return inRegister.Length > 0 ? inRegister[0] : keys.Length > 0 ? keys.MinBy(key => Math.Abs(key - player.Lowest)) : player.Lowest;
    }
}
