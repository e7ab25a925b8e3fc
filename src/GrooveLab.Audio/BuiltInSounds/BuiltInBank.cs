using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>The bank that the program brings along: made by calculation, nothing to download.</summary>
/// <remarks>
/// Not recordings. Programs 15, 21, 24, 25, 28, 32, 33, 40, 42, 73 and 105 of bank 0 (numbers from 0, as General MIDI counts on the wire)
/// and a kit in bank 128; other programs are not there. Initial attenuation is used only for the second string or reed, levels lie in the samples,
/// so that renderers that differ about that generator agree.
/// </remarks>
public static class BuiltInBank
{
    // Raised whenever the way of calculating changes; the numbers of the recipes are taken into the cache's name by themselves.
    private const int Method = 1;

    private const double NoteLoudness = 0.095;
    private const double NoteStretch = 0.1;
    private const double ClickLoudness = 0.17;
    private const double ClickStretch = 0.03;

    private static readonly (int Low, int High)[] LayerVelocities = [(1, 50), (51, 84), (85, 127)];
    private static readonly string[] LayerNames = ["s", "m", "h"];

    /// <summary>Makes the bank: a complete SoundFont 2.04 file, the same bytes each time on one machine.</summary>
    /// <remarks>Uses all cores for some tenths of a second; never call it on the audio thread.</remarks>
    public static byte[] Create()
    {
        var pitched = BuiltInInstruments.Pitched.Select(r => new InstrumentJobs(r)).ToArray();
        var struck = BuiltInInstruments.Kit.SelectMany(r => LayerNames.Select((_, layer) => new SampleJob(() => MakeClick(r, layer)))).ToArray();
        SampleJob[] jobs = [.. pitched.SelectMany(p => p.Jobs), .. struck];
        Parallel.ForEach(System.Collections.Concurrent.Partitioner.Create(jobs, loadBalance: true), job => job.Run());

        var presets = pitched.Select(p => Preset(p.Recipe.Name, 0, p.Recipe.Program, new(p.Recipe.Name, Zones(p)))).ToList();
        presets.Add(Preset("Built-in kit", 128, 0, new("Built-in kit", KitZones(struck))));
        return SoundFontWriter.Write(new("GrooveLab built-in sounds", "GrooveLab", "GrooveLab"), presets);
    }

    /// <summary>The bank from a cache file, or made and put there.</summary>
    /// <remarks>
    /// The file's name holds a hash of the recipe, so that another version makes another file. It is written whole or not at all. A cache
    /// that is missing, damaged or cannot be written is no error: the bank is made anew.
    /// </remarks>
    /// <param name="cacheFolder">Created if need be.</param>
    public static byte[] LoadOrCreate(string cacheFolder)
    {
        ArgumentNullException.ThrowIfNull(cacheFolder);
        string file = Path.Combine(cacheFolder, CacheFileName);
        try
        {
            if (File.Exists(file))
            {
                byte[] kept = File.ReadAllBytes(file);
                if (SoundFontWriter.IsIntact(kept))
                {
                    return kept;
                }
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            // What cannot be read is made anew, below.
        }

        byte[] made = Create();
        TryKeep(file, made);
        return made;
    }

    /// <summary>Name of the cache file for this version of the recipe.</summary>
    public static string CacheFileName => $"built-in-{RecipeHash()}.sf2";

    private static void TryKeep(string file, byte[] bytes)
    {
        string temporary = $"{file}.{Guid.NewGuid():N}.tmp";
        try
        {
            Directory.CreateDirectory(Path.GetDirectoryName(file) ?? ".");
            File.WriteAllBytes(temporary, bytes);
            File.Move(temporary, file, overwrite: true);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            TryDelete(temporary);
        }
    }

    private static void TryDelete(string file)
    {
        try
        {
            File.Delete(file);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            // A temporary file that cannot be removed does no harm: nothing reads it.
        }
    }

    private static string RecipeHash()
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"{Method} ").Append(NoteLoudness.ToString(CultureInfo.InvariantCulture));
        text.Append(ClickLoudness.ToString(CultureInfo.InvariantCulture));
        foreach (InstrumentRecipe r in BuiltInInstruments.Pitched)
        {
            text.Append(r).Append('\n');
            text.AppendJoin(' ', r.Pluck?.Layers ?? []).AppendJoin(' ', r.Pluck?.Body ?? []);
            text.AppendJoin(' ', r.Sustain?.Layers ?? []).AppendJoin(' ', r.Sustain?.Body ?? []);
            for (int k = 1; r.Sustain is not null && k < 9; k++)
            {
                text.Append(r.Sustain.Partial(k, 440, 0).ToString(CultureInfo.InvariantCulture)).Append(' ');
                text.Append(r.Sustain.Partial(k, 440, 2).ToString(CultureInfo.InvariantCulture)).Append(' ');
            }
        }

        foreach (StruckRecipe r in BuiltInInstruments.Kit)
        {
            text.Append(r).AppendJoin(' ', r.Modes).AppendJoin(' ', r.Bursts).Append('\n');
        }

        return Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text.ToString())).AsSpan(0, 8));
    }

    private static SoundFontPreset Preset(string name, int bank, int program, SoundFontInstrument instrument) =>
        new(name, bank, program, [new SoundFontZone<SoundFontInstrument> { Target = instrument }]);

    private static (SoundFontSample Sample, RenderedSound Sound) MakeNote(InstrumentRecipe recipe, int key, int layer)
    {
        double place = (double)(key - recipe.LowKey) / (recipe.HighKey - recipe.LowKey);
        ulong seed = (ulong)((recipe.Program * 100_000) + (key * 100) + (layer * 10));
        RenderedSound sound = recipe.Pluck is not null
            ? recipe.Pluck.Render(key, Math.Clamp(place, 0, 1), layer, seed)
            : recipe.Sustain!.Render(key, layer, seed);
        double[] note = sound.Play(0.5);
        int lead = recipe.Detune > 0 ? Lead(key, sound.SampleRate) : 0;
        if (lead > 0)
        {
            double softer = Math.Pow(10, -recipe.SecondSofter / 20);
            for (int i = note.Length - 1; i >= lead; i--)
            {
                note[i] += softer * note[i - lead];
            }
        }

        double loudness = Loudness.Of(note, sound.SampleRate, NoteStretch);
        string name = string.Create(CultureInfo.InvariantCulture, $"p{recipe.Program} k{key} {LayerNames[layer]}");
        return (Sample(name, sound, key, NoteLoudness / loudness, lead), sound);
    }

    private static (SoundFontSample Sample, RenderedSound Sound) MakeClick(StruckRecipe recipe, int layer)
    {
        RenderedSound sound = recipe.Render(layer, (ulong)(7_000_000 + (recipe.Key * 100)));
        double loudness = Loudness.Of(sound.Play(0.5), sound.SampleRate, ClickStretch);
        double wanted = ClickLoudness * Math.Pow(10, recipe.Level / 20);
        return (Sample($"{recipe.Name} {LayerNames[layer]}", sound, recipe.Key, wanted / loudness, 0), sound);
    }

    private static SoundFontSample Sample(string name, RenderedSound sound, int key, double scale, int lead)
    {
        double peak = 0;
        foreach (double x in sound.Frames)
        {
            peak = Math.Max(peak, Math.Abs(x));
        }

        scale = Math.Min(scale, 0.98 / peak);
        short[] frames = new short[lead + sound.Frames.Length];
        for (int i = lead; i < frames.Length; i++)
        {
            frames[i] = (short)Math.Round(32767 * scale * sound.Frames[i - lead]);
        }

        bool looped = sound.LoopEnd > sound.LoopStart;
        return new(name, frames, sound.SampleRate, key, 0, looped ? lead + sound.LoopStart : 0, looped ? lead + sound.LoopEnd : 0);
    }

    private static SoundFontZone<SoundFontSample> GlobalZone(int reverb)
    {
        var zone = new SoundFontZone<SoundFontSample>()
            .With(SoundFontGenerator.ReverbSend, reverb)
            .With(SoundFontGenerator.Pan, 0);

        // The default modulator from velocity to cutoff is put out of force: the layers carry the difference of touch.
        zone.Modulators.Add(new(0x0102, SoundFontGenerator.InitialFilterCutoff, 0));
        return zone;
    }

    private static List<SoundFontZone<SoundFontSample>> Zones(InstrumentJobs jobs)
    {
        InstrumentRecipe recipe = jobs.Recipe;
        SoundFontZone<SoundFontSample> global = GlobalZone(recipe.Reverb);
        if (recipe.VibratoCents > 0)
        {
            global.With(SoundFontGenerator.VibratoLfoToPitch, recipe.VibratoCents)
                .With(SoundFontGenerator.VibratoLfoDelay, Timecents(recipe.VibratoDelay))
                .With(SoundFontGenerator.VibratoLfoFrequency, AbsoluteCents(recipe.VibratoRate))
                .With(SoundFontGenerator.ModulationLfoToVolume, recipe.VibratoSwell)
                .With(SoundFontGenerator.ModulationLfoDelay, Timecents(1.15 * recipe.VibratoDelay))
                .With(SoundFontGenerator.ModulationLfoFrequency, AbsoluteCents(0.93 * recipe.VibratoRate));
        }

        var zones = new List<SoundFontZone<SoundFontSample>> { global };
        int roots = jobs.Roots.Count;
        for (int r = 0; r < roots; r++)
        {
            int low = r == 0 ? 0 : jobs.LowestOf(r), high = r == roots - 1 ? 127 : jobs.LowestOf(r + 1) - 1;
            for (int layer = 0; layer < LayerVelocities.Length; layer++)
            {
                (SoundFontSample sample, RenderedSound sound) = jobs.Jobs[(r * LayerVelocities.Length) + layer].Result;
                for (int voice = 0; voice < (recipe.Detune > 0 ? 2 : 1); voice++)
                {
                    var zone = new SoundFontZone<SoundFontSample>
                    {
                        Target = sample,
                        Keys = (low, high),
                        Velocities = LayerVelocities[layer],
                    };
                    Shape(zone, recipe, jobs.Roots[r], sound);
                    if (recipe.Detune > 0)
                    {
                        Pair(zone, recipe, jobs.Roots[r], voice, sound);
                    }

                    zones.Add(zone);
                }
            }
        }

        return zones;
    }

    private static void Shape(SoundFontZone<SoundFontSample> zone, InstrumentRecipe recipe, int root, RenderedSound sound)
    {
        double place = Math.Clamp((double)(root - recipe.LowKey) / (recipe.HighKey - recipe.LowKey), 0, 1);

        // Envelope times are for 100 dB, recipes speak of 60.
        double release = recipe.Release.At(place);
        zone.With(SoundFontGenerator.VolumeEnvelopeRelease, Timecents(release / 0.6));
        if (sound.Decay > 0)
        {
            zone.With(SoundFontGenerator.VolumeEnvelopeDecay, Timecents(sound.Decay / 0.6))
                .With(SoundFontGenerator.VolumeEnvelopeSustain, 1000);
            Dull(zone, root, sound, release);
        }

        zone.With(SoundFontGenerator.SampleModes, sound.LoopEnd > sound.LoopStart ? 1 : 0);
    }

    // In the loop the upper partials have stopped dying before the lower ones; a slowly closing filter goes on where the string left off.
    private static void Dull(SoundFontZone<SoundFontSample> zone, int root, RenderedSound sound, double release)
    {
        const double Open = 13500;
        double closed = AbsoluteCents(Math.Min(3 * LoopTuning.KeyFrequency(root), 9000));
        double natural = (double)sound.LoopStart / sound.SampleRate;
        zone.With(SoundFontGenerator.InitialFilterCutoff, closed)
            .With(SoundFontGenerator.ModulationEnvelopeToFilterCutoff, Open - closed)
            .With(SoundFontGenerator.ModulationEnvelopeHold, Timecents(0.6 * natural))
            .With(SoundFontGenerator.ModulationEnvelopeDecay, Timecents(Math.Max(0.7 * sound.Decay, 2 * natural)))
            .With(SoundFontGenerator.ModulationEnvelopeSustain, 1000)
            .With(SoundFontGenerator.ModulationEnvelopeRelease, Timecents(2 * release));
    }

    private static void Pair(SoundFontZone<SoundFontSample> zone, InstrumentRecipe recipe, int root, int voice, RenderedSound sound)
    {
        // The later string is the higher one: it first catches up, so that the first trough of their beat lies as far off as can be.
        double below = Math.Floor(recipe.Detune / 2);
        if (voice == 0)
        {
            zone.With(SoundFontGenerator.StartAddressOffset, Lead(root, sound.SampleRate)).With(SoundFontGenerator.FineTune, -below);
            return;
        }

        zone.With(SoundFontGenerator.FineTune, recipe.Detune - below)
            .With(SoundFontGenerator.InitialAttenuation, 10 * recipe.SecondSofter);
    }

    // The second string is reached a little later. The sample begins with that many empty frames, which the first string skips: unlike a
    // delay in seconds this keeps the phase between the two the same at every key of the zone, an eighth of a period past whole ones.
    private static int Lead(int root, int rate)
    {
        double period = rate / LoopTuning.KeyFrequency(root);
        return (int)Math.Round((Math.Floor(0.0022 * rate / period) + 0.12) * period);
    }

    private static List<SoundFontZone<SoundFontSample>> KitZones(SampleJob[] jobs)
    {
        var zones = new List<SoundFontZone<SoundFontSample>> { GlobalZone(0) };
        for (int i = 0; i < jobs.Length; i++)
        {
            StruckRecipe recipe = BuiltInInstruments.Kit[i / LayerVelocities.Length];
            var zone = new SoundFontZone<SoundFontSample>
            {
                Target = jobs[i].Result.Sample,
                Keys = (recipe.Key, recipe.Key),
                Velocities = LayerVelocities[i % LayerVelocities.Length],
            };
            zone.With(SoundFontGenerator.ReverbSend, recipe.Reverb)
                .With(SoundFontGenerator.VolumeEnvelopeRelease, Timecents(recipe.Length / 0.6));
            if (recipe.ExclusiveClass > 0)
            {
                zone.With(SoundFontGenerator.ExclusiveClass, recipe.ExclusiveClass);
            }

            zones.Add(zone.With(SoundFontGenerator.SampleModes, 0));
        }

        return zones;
    }

    private static double Timecents(double seconds) => Math.Clamp(1200 * Math.Log2(seconds), -12000, 8000);

    private static double AbsoluteCents(double frequency) => 1200 * Math.Log2(frequency / 8.1757989156437);

    private sealed class SampleJob(Func<(SoundFontSample Sample, RenderedSound Sound)> make)
    {
        public (SoundFontSample Sample, RenderedSound Sound) Result { get; private set; }

        public void Run() => Result = make();
    }

    private sealed class InstrumentJobs
    {
        public InstrumentJobs(InstrumentRecipe recipe)
        {
            Recipe = recipe;
            for (int key = recipe.LowKey + 1; key - 1 <= recipe.HighKey; key += recipe.Step)
            {
                int root = Math.Min(key, recipe.HighKey);
                Roots.Add(root);
                for (int layer = 0; layer < LayerVelocities.Length; layer++)
                {
                    int chosen = layer;
                    Jobs.Add(new(() => MakeNote(recipe, root, chosen)));
                }
            }
        }

        public InstrumentRecipe Recipe { get; }

        public List<int> Roots { get; } = [];

        public List<SampleJob> Jobs { get; } = [];

        // A sample serves one key below its root and two above.
        public int LowestOf(int index) => Roots[index] - 1;
    }
}
