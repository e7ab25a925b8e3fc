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
        var last = band.Tune.Notes.Count > 0 ? band.Tune.Notes[^1].Note.Key : (int?)null;
        var sung = last is { } tune && !chord.IsNoChord ? NearestRoot(chord, tune) : (int?)null;
        for (var part = 0; part < band.Parts.Count; part++)
        {
            var player = band.Parts[part];
            if (!band.Plays(part))
            {
                continue;
            }

            switch (player.Role)
            {
                case Role.Tune when sung is { } note:
                    var octaves = 12 * ((TuneSettings)player.Settings).Octaves;
                    var high = Math.Clamp(note + octaves, 0, 127);
                    taken.Add(high);
                    Hold(draft, part, player, high, TuneLine.BaseVelocity + 4, ring);
                    break;
                case Role.Bass when !chord.IsNoChord:
                    var bass = BassKey(chord, player);
                    taken.Add(bass);
                    Hold(draft, part, player, bass, BassLine.BaseVelocity + 10, ring);
                    break;
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

            var shape = ChordShapes.Without(shapes[part]!.Next(band.ShapesOf(part)[^1], chord, key, taken), taken);
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

    private static int NearestRoot(ChordSymbol chord, int from) => Enumerable.Range(0, 12)
        .SelectMany(away => new[] { from - away, from + away })
        .First(key => ((key % 12) + 12) % 12 == chord.Root.PitchClass);

    public static int BassKey(ChordSymbol chord, Part player)
    {
        var keys = Enumerable.Range(player.Instrument.Lowest, player.Instrument.Highest - player.Instrument.Lowest + 1)
            .Where(key => key % 12 == chord.Bass.PitchClass).ToArray();
        var inRegister = keys.Where(key => key >= player.Lowest && key <= player.Highest).ToArray();
        return inRegister.Length > 0 ? inRegister[0] : keys.Length > 0 ? keys.MinBy(key => Math.Abs(key - player.Lowest)) : player.Lowest;
    }
}
