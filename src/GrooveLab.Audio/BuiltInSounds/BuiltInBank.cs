using System.Globalization;
using GrooveLab.Audio.Failures;
using GrooveLab.Files;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>The program's own bank, made by calculation; nothing to download.</summary>
/// <remarks>
/// Contains no recordings. Has programs 15, 21, 24, 25, 28, 32, 33, 40, 42, 73 and 105 of bank 0 (counted from 0, as on the wire) and a
/// kit in bank 128, and no other programs. The levels are in the samples and not in the attenuation generator, about which renderers
/// disagree.
/// </remarks>
public static class BuiltInBank
{
    private const string CachePrefix = "built-in-";
    private const int KeptVersions = 3;

    private const double NoteLoudness = 0.09;
    private const double NoteStretch = 0.1;

    // A damped stroke has most of its energy in its first hundredths of a second. Levelled over this stretch, an attack (60 ms) is as loud damped
    // as open; over a longer one damped strokes between the beats would be the accents.
    private const double DampedStretch = 0.08;
    private const double ClickLoudness = 0.17;
    private const double ClickStretch = 0.03;

    // How far each sample's vibrato may lie from the recipe's, as a ratio either way. Common practice, no source.
    private const double VibratoDepthSpread = 0.35;
    private const double VibratoRateSpread = 0.1;
    private const double VibratoDelaySpread = 0.2;

    private static readonly (int Low, int High)[] LayerVelocities = [(1, 50), (51, 84), (85, 127)];
    private static readonly string[] LayerNames = ["s", "m", "h"];

    /// <summary>Creates the bank: a complete SoundFont 2.04 file, with the same bytes each time on one machine.</summary>
    /// <remarks>Uses all cores for a second or two; never call it on the audio thread.</remarks>
    /// <param name="progress">Told what share of the sounds is made, above 0 to 1, from several threads; null for nobody.</param>
    public static byte[] Create(IProgress<double>? progress = null)
    {
        PitchedJob[][] pitched = [.. BuiltInInstruments.Pitched.Select(r => Roots(r).Select(key => new PitchedJob(r, key)).ToArray())];
        StruckJob[] struck = [.. BuiltInInstruments.Kit.Select(r => new StruckJob(r))];
        Action[] jobs = [.. pitched.SelectMany(p => p).Select(p => (Action)p.Run), .. struck.Select(j => (Action)j.Run)];
        var made = 0;
        Parallel.ForEach(System.Collections.Concurrent.Partitioner.Create(jobs, loadBalance: true), job =>
        {
            job();
            progress?.Report((double)Interlocked.Increment(ref made) / jobs.Length);
        });

        var presets = pitched.Select(p => Preset(p[0].Recipe.Name, 0, p[0].Recipe.Program, new(p[0].Recipe.Name, Zones(p)))).ToList();
        presets.Add(Preset("Built-in kit", 128, 0, new("Built-in kit", KitZones(struck))));
        return SoundFontWriter.Write(new("GrooveLab built-in sounds", "GrooveLab", "GrooveLab"), presets);
    }

    /// <summary>Reads the bank from its cache file, or creates the bank and the file.</summary>
    /// <remarks>
    /// The file's name contains the identity of this build, so another build has another file; the newest old files are kept for users of
    /// several versions. The file is written completely or not at all. A missing, damaged or unwritable cache is not an error: the bank is
    /// then created again.
    /// </remarks>
    /// <param name="cacheFolder">The folder; created if necessary.</param>
    /// <param name="failures">Records that the cache cannot be used; null records nothing.</param>
    /// <param name="progress">Told what share of the sounds is made, if they are not kept; see <see cref="Create"/>.</param>
    public static byte[] LoadOrCreate(string cacheFolder, FailureLog? failures = null, IProgress<double>? progress = null)
    {
        ArgumentNullException.ThrowIfNull(cacheFolder);
        var file = Path.Combine(cacheFolder, CacheFileName);
        try
        {
            if (File.Exists(file))
            {
                var kept = File.ReadAllBytes(file);
                if (SoundFontWriter.IsIntact(kept))
                {
                    return kept;
                }
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            // An unreadable cache is created again below.
            failures?.Add("reading the built-in sounds from their cache", e);
        }

        var made = Create(progress);
        TryKeep(file, made, failures);
        return made;
    }

    /// <summary>Name of the cache file for this build; any change in the code changes the build's identity, and so the name.</summary>
    public static string CacheFileName => CacheFileNameOf(typeof(BuiltInBank).Module.ModuleVersionId);

    /// <summary>Name of the cache file for a build.</summary>
    internal static string CacheFileNameOf(Guid build) => $"{CachePrefix}{build:N}.sf2";

    private static void TryKeep(string file, byte[] bytes, FailureLog? failures)
    {
        var answer = DurableFile.WriteBytes(file, bytes, WriteOptions.Own);
        if (answer.IsWritten)
        {
            Prune(file, failures);
        }
        else
        {
            failures?.Add("keeping the built-in sounds in their cache", answer.Refusal!.Message);
        }
    }

    private static void Prune(string kept, FailureLog? failures)
    {
        foreach (var old in new FileInfo(kept).Directory!.EnumerateFiles(CachePrefix + "*.sf2").OrderByDescending(other => other.LastWriteTimeUtc).Skip(KeptVersions))
        {
            TryDelete(old.FullName, failures);
        }
    }

    private static void TryDelete(string file, FailureLog? failures)
    {
        try
        {
            File.Delete(file);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            // An old cache that cannot be deleted does no harm, because nothing reads it.
            failures?.Add("removing an old cache of the built-in sounds", e);
        }
    }

    private static SoundFontPreset Preset(string name, int bank, int program, SoundFontInstrument instrument) =>
        new(name, bank, program, [new SoundFontZone<SoundFontInstrument> { Target = instrument }]);

    private static SoundFontSample Sample(string name, RenderedSound sound, int key, double scale)
    {
        double peak = 0;
        foreach (var x in sound.Frames)
        {
            peak = Math.Max(peak, Math.Abs(x));
        }

        scale = Math.Min(scale, 0.98 / peak);
        var frames = new short[sound.Frames.Length];
        for (var i = 0; i < frames.Length; i++)
        {
            frames[i] = (short)Math.Round(32767 * scale * sound.Frames[i]);
        }

        return new(name, frames, sound.SampleRate, key, 0, sound.LoopStart, sound.LoopEnd);
    }

    private static SoundFontZone<SoundFontSample> GlobalZone(int reverb)
    {
        var zone = new SoundFontZone<SoundFontSample>()
            .With(SoundFontGenerator.ReverbSend, reverb)
            .With(SoundFontGenerator.Pan, 0);

        // Disables the default modulator from velocity to cutoff, because the layers already differ in touch.
        zone.Modulators.Add(new(0x0102, SoundFontGenerator.InitialFilterCutoff, 0));
        return zone;
    }

    private static List<SoundFontZone<SoundFontSample>> Zones(PitchedJob[] jobs)
    {
        var recipe = jobs[0].Recipe;
        var global = GlobalZone(recipe.Reverb);
        var zones = new List<SoundFontZone<SoundFontSample>> { global };

        for (var r = 0; r < jobs.Length; r++)
        {
            // A sample serves one key below its root and two above; the outermost samples extend to the ends of the keyboard.
            int low = r == 0 ? 0 : jobs[r].Key - 1, high = r == jobs.Length - 1 ? 127 : jobs[r + 1].Key - 2;
            for (var layer = 0; layer < LayerVelocities.Length; layer++)
            {
                var zone = Zone(recipe, jobs[r].Key, jobs[r].Layers[layer], (low, high), LayerVelocities[layer]);
                Vibrate(zone, recipe, jobs[r].Key, layer);
                zones.Add(zone);
            }

            if (jobs[r].Second is { } second)
            {
                zones.Add(Zone(recipe, jobs[r].Key, second, (low, high), null));
            }
        }

        PitchedJob[] halos = [.. jobs.Where(job => job.Halo is not null)];
        for (var r = 0; r < halos.Length; r++)
        {
            int low = r == 0 ? 0 : halos[r].Key - (HaloRecipe.Step / 2), high = r == halos.Length - 1 ? 127 : halos[r + 1].Key - (HaloRecipe.Step / 2) - 1;
            zones.Add(HaloZone(recipe.Halo!, halos[r].Halo!, (low, high)));
        }

        return zones;
    }

    // Neighbouring samples vibrate differently, so notes that borrow them do too.
    private static void Vibrate(SoundFontZone<SoundFontSample> zone, InstrumentRecipe recipe, int root, int layer)
    {
        if (recipe.VibratoCents == 0)
        {
            return;
        }

        double depth = Varied(VibratoDepthSpread, 0), rate = Varied(VibratoRateSpread, 1), delay = Varied(VibratoDelaySpread, 2);
        zone.With(SoundFontGenerator.ModulationLfoToVolume, depth * recipe.VibratoSwell)
            .With(SoundFontGenerator.VibratoLfoToPitch, depth * recipe.VibratoCents)
            .With(SoundFontGenerator.ModulationLfoDelay, Timecents(1.15 * delay * recipe.VibratoDelay))
            .With(SoundFontGenerator.ModulationLfoFrequency, AbsoluteCents(0.93 * rate * recipe.VibratoRate))
            .With(SoundFontGenerator.VibratoLfoDelay, Timecents(delay * recipe.VibratoDelay))
            .With(SoundFontGenerator.VibratoLfoFrequency, AbsoluteCents(rate * recipe.VibratoRate));

        double Varied(double spread, int what) => 1 + (spread * recipe.Chance(root, layer, what));
    }

    private static SoundFontZone<SoundFontSample> HaloZone(HaloRecipe recipe, MadeSample made, (int Low, int High) keys) =>
        new SoundFontZone<SoundFontSample> { Target = made.Sample, Keys = keys }
            .With(SoundFontGenerator.VolumeEnvelopeAttack, Timecents(recipe.Swell))
            .With(SoundFontGenerator.VolumeEnvelopeDecay, Timecents(recipe.Decay / 0.6))
            .With(SoundFontGenerator.VolumeEnvelopeSustain, 1000)
            .With(SoundFontGenerator.VolumeEnvelopeRelease, Timecents(recipe.Release / 0.6))
            .With(SoundFontGenerator.SampleModes, 1);

    private static SoundFontZone<SoundFontSample> Zone(
        InstrumentRecipe recipe, int root, MadeSample made, (int Low, int High) keys, (int Low, int High)? velocities)
    {
        var zone = new SoundFontZone<SoundFontSample> { Target = made.Sample, Keys = keys, Velocities = velocities };
        Shape(zone, recipe, root, made.Sound);
        return zone;
    }

    private static void Shape(SoundFontZone<SoundFontSample> zone, InstrumentRecipe recipe, int root, RenderedSound sound)
    {
        var place = Math.Clamp((double)(root - recipe.LowKey) / (recipe.HighKey - recipe.LowKey), 0, 1);

        // Envelope times are for 100 dB, times in recipes for 60 dB.
        var release = recipe.Release.At(place);
        zone.With(SoundFontGenerator.VolumeEnvelopeRelease, Timecents(release / 0.6));
        if (sound.Decay > 0)
        {
            zone.With(SoundFontGenerator.VolumeEnvelopeDecay, Timecents(sound.Decay / 0.6))
                .With(SoundFontGenerator.VolumeEnvelopeSustain, 1000);
        }

        var isLooped = sound.LoopEnd > sound.LoopStart;
        if (isLooped && sound.Decay > 0)
        {
            Dull(zone, root, sound, release);
        }

        zone.With(SoundFontGenerator.SampleModes, isLooped ? 1 : 0);
    }

    // In the loop the upper partials no longer decay faster than the lower ones; a slowly closing filter continues what the string did.
    private static void Dull(SoundFontZone<SoundFontSample> zone, int root, RenderedSound sound, double release)
    {
        const double Open = 13500;
        var closed = AbsoluteCents(Math.Min(3 * LoopTuning.KeyFrequency(root), 9000));
        var natural = (double)sound.LoopStart / sound.SampleRate;
        zone.With(SoundFontGenerator.InitialFilterCutoff, closed)
            .With(SoundFontGenerator.ModulationEnvelopeToFilterCutoff, Open - closed)
            .With(SoundFontGenerator.ModulationEnvelopeHold, Timecents(0.6 * natural))
            .With(SoundFontGenerator.ModulationEnvelopeDecay, Timecents(Math.Max(0.7 * sound.Decay, 2 * natural)))
            .With(SoundFontGenerator.ModulationEnvelopeSustain, 1000)
            .With(SoundFontGenerator.ModulationEnvelopeRelease, Timecents(2 * release));
    }

    private static List<SoundFontZone<SoundFontSample>> KitZones(StruckJob[] jobs)
    {
        var zones = new List<SoundFontZone<SoundFontSample>> { GlobalZone(0) };
        foreach (var job in jobs)
        {
            var recipe = job.Recipe;
            for (var layer = 0; layer < LayerVelocities.Length; layer++)
            {
                var zone = new SoundFontZone<SoundFontSample>
                {
                    Target = job.Layers[layer].Sample,
                    Keys = (recipe.Key, recipe.Key),
                    Velocities = LayerVelocities[layer],
                }
                .With(SoundFontGenerator.ReverbSend, recipe.Reverb)
                .With(SoundFontGenerator.VolumeEnvelopeRelease, Timecents(recipe.Length / 0.6));
                if (recipe.ExclusiveClass > 0)
                {
                    zone.With(SoundFontGenerator.ExclusiveClass, recipe.ExclusiveClass);
                }

                zones.Add(zone.With(SoundFontGenerator.SampleModes, 0));
            }
        }

        return zones;
    }

    private static IEnumerable<int> Roots(InstrumentRecipe recipe)
    {
        for (var key = recipe.LowKey + 1; key - 1 <= recipe.HighKey; key += recipe.Step)
        {
            yield return Math.Min(key, recipe.HighKey);
        }
    }

    private static double Timecents(double seconds) => Math.Clamp(1200 * Math.Log2(seconds), -12000, 8000);

    private static double AbsoluteCents(double frequency) => 1200 * Math.Log2(frequency / 8.1757989156437);

    private sealed record MadeSample(SoundFontSample Sample, RenderedSound Sound);

    // All samples of one key; they belong together because the level of each layer depends on the second string.
    private sealed class PitchedJob(InstrumentRecipe recipe, int key)
    {
        public InstrumentRecipe Recipe { get; } = recipe;

        public int Key { get; } = key;

        public MadeSample[] Layers { get; } = new MadeSample[LayerVelocities.Length];

        public MadeSample? Second { get; private set; }

        public MadeSample? Halo { get; private set; }

        public void Run()
        {
            double[] second = [];
            var secondRate = 0;
            if (Recipe.Detune > 0)
            {
                var sound = LateAndHigh(Recipe.RenderSecond(Key));
                var level = NoteLoudness * Math.Pow(10, -Recipe.SecondSofter / 20) / Loudness.Of(sound.Play(0.5), sound.SampleRate, NoteStretch);
                Second = new(Sample(Name("2"), sound, Key, level), sound);
                second = [.. sound.Play(0.5).Select(x => level * x)];
                secondRate = sound.SampleRate;
            }

            if (Recipe.Halo is { } halo && (Key - Recipe.LowKey - 1) % HaloRecipe.Step == 0)
            {
                var sound = Recipe.RenderHalo(Key);
                var level = NoteLoudness * Math.Pow(10, -halo.Softer / 20) / Loudness.Of(sound.Play(0.5), sound.SampleRate, NoteStretch);
                Halo = new(Sample(Name("halo"), sound, Key, level), sound);
            }

            for (var layer = 0; layer < Layers.Length; layer++)
            {
                var sound = Recipe.Render(Key, layer);
                Layers[layer] = new(Sample(Name(LayerNames[layer]), sound, Key, Level(sound, second, secondRate)), sound);
            }
        }

        private string Name(string suffix) => string.Create(CultureInfo.InvariantCulture, $"p{Recipe.Program} k{Key} {suffix}");

        // The first string is in tune, because the louder one determines the pitch. The second starts later by whole periods and an eighth, so
        // that the two do not cancel at the start. It is the higher one, so it first catches up and the first trough of their beat comes as
        // late as possible. Its sample rate sets the difference, because the tuning generator has whole cents only.
        private RenderedSound LateAndHigh(RenderedSound sound)
        {
            var period = sound.Period;
            var lead = (int)Math.Round((Math.Floor(0.0022 * sound.SampleRate / period) + 0.12) * period);
            return sound with
            {
                Frames = [.. new double[lead], .. sound.Frames],
                SampleRate = (int)Math.Round(sound.SampleRate * Math.Pow(2, Recipe.Detune / 1200)),
                LoopStart = sound.LoopStart + lead,
                LoopEnd = sound.LoopEnd + lead,
            };
        }

        // The factor for the first string that gives both strings together the intended loudness.
        private double Level(RenderedSound sound, double[] second, int secondRate)
        {
            double[] first = sound.Play(0.5), note = [.. first];
            var stretch = sound.LoopEnd > sound.LoopStart ? NoteStretch : DampedStretch;
            var level = NoteLoudness / Loudness.Of(first, sound.SampleRate, stretch);
            var step = (double)secondRate / sound.SampleRate;
            for (var round = 0; round < 4 && second.Length > 0; round++)
            {
                for (var i = 0; i < note.Length; i++)
                {
                    var at = i * step;
                    var whole = (int)at;
                    note[i] = (level * first[i]) + (whole + 1 < second.Length ? second[whole] + ((at - whole) * (second[whole + 1] - second[whole])) : 0);
                }

                // Slightly more than proportional, because the second string does not change with the first.
                level *= Math.Pow(NoteLoudness / Loudness.Of(note, sound.SampleRate, stretch), 1.3);
            }

            return level;
        }
    }

    private sealed class StruckJob(StruckRecipe recipe)
    {
        public StruckRecipe Recipe { get; } = recipe;

        public MadeSample[] Layers { get; } = new MadeSample[LayerVelocities.Length];

        public void Run()
        {
            for (var layer = 0; layer < Layers.Length; layer++)
            {
                var sound = Recipe.Render(layer, (ulong)(7_000_000 + (Recipe.Key * 100)));
                var loudness = Loudness.Of(sound.Play(0.5), sound.SampleRate, ClickStretch);
                var wanted = ClickLoudness * Math.Pow(10, Recipe.Level / 20);
                Layers[layer] = new(Sample($"{Recipe.Name} {LayerNames[layer]}", sound, Recipe.Key, wanted / loudness), sound);
            }
        }
    }
}
