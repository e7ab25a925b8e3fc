using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// A SoundFont 2.04 synthesizer: MIDI channels in, stereo frames out.
/// </summary>
/// <remarks>
/// <para>
/// One thread owns it; only <see cref="Prepare(int, int)"/> and <see cref="WarmUp"/> may run on another, before or while it plays. After
/// <see cref="WarmUp"/> no other member allocates, waits, reads a file or throws. Before that, <see cref="Program"/> resolves a new
/// preset, which can do all of these.
/// </para>
/// <para>
/// Every call takes effect exactly on the next rendered frame: it is the first that can differ. Slow quantities (pitch, filter, the ends
/// of gain ramps) follow a grid of 64 absolute frames, so any buffer sizes give the same bits. Reverb and chorus come 64 frames late.
/// </para>
/// <para>
/// Channels start at program 0, volume 100, expression 127, pan 64, reverb send 40, chorus send 0 (General MIDI 1 and 2). Bank select is
/// controller 0; its low byte, controller 32, is ignored; percussion channels ignore both. A key that starts again while it sounds releases
/// its older voices. Not obeyed: portamento (5, 65, 84), soft pedal (67) and data increment and decrement (96, 97), unless a modulator of the
/// bank uses the controller; omni mode (124, 125) only ends notes, because each channel plays its own.
/// </para>
/// </remarks>
public sealed class SoundFontSynth : ISoundFontSynth
{
    /// <summary>The lowest sample rate, in Hz.</summary>
    public const int LowestSampleRate = 8_000;

    /// <summary>The highest sample rate, in Hz.</summary>
    public const int HighestSampleRate = 384_000;

    private const int ProgramCount = 128;

    // Few enough that the warm-up steals voices too.
    private const int WarmUpVoices = 24;
    private const float HighestProgramGain = 8;
    private const int FirstPercussionChannel = 9;

    // The channels that one MIDI cable can address.
    private const int PortChannels = 16;

    // Voices that fade out free their places within milliseconds; this many may fade at once before one is cut.
    private const int SpareVoices = 64;

    // -60 dB: a softer voice is not missed when it ends early. Common practice, no source.
    private const float AudibleLevel = 0.001f;

    // A voice 40 dB below the mix is masked by it. Common practice, no source.
    private const float MaskedShare = 0.01f;

    // A released voice is given up before a held one that is less than 12 dB softer. Common practice, no source.
    private const float ReleasedWeight = 0.25f;

    private readonly SoundFontBank _bank;
    private readonly SoundFontSynthOptions _options;
    private readonly VoiceContext _context;
    private readonly ChannelState[] _channels;
    private readonly ResolvedPreset?[] _latelyPrepared;
    private readonly VoiceGroup[] _groups;
    private readonly Voice[] _voices;
    private readonly LaneKernel? _kernel;
    private readonly LaneBuffers _buffers = new();
    private readonly Reverb? _reverb;
    private readonly Chorus? _chorus;
    private readonly float[] _reverbSend;
    private readonly float[] _chorusSend;
    private readonly float[] _wetLeft;
    private readonly float[] _wetRight;
    private long _frame;
    private long _noteId;
    private long _stolenVoices;
    private long _cutNotes;
    private long _ignoredCalls;
    private long _stolenAttacks;
    private long _slowlyStolenVoices;
    private long _substitutedPrograms;
    private long _unpreparedPrograms;
    private int _preparations;
    private volatile bool _isWarm;

    // By program, percussion in the second half; 1 until measured.
    private readonly float[] _programGains = new float[2 * ProgramCount];
    private readonly bool[] _isBalanced = new bool[2 * ProgramCount];

    /// <summary>Creates a synthesizer that plays a bank.</summary>
    /// <param name="bank">The bank; several synthesizers may share one.</param>
    /// <param name="sampleRate">Sample rate in Hz, 8,000-384,000.</param>
    /// <param name="options">Channels, voices, effects; null for the defaults.</param>
    /// <exception cref="ArgumentOutOfRangeException">A number is outside its range.</exception>
    /// <exception cref="SoundFontException">The first preset cannot be resolved; not with <see cref="SoundFontSynthOptions.ResolvesAtFirstNote"/>.</exception>
    public SoundFontSynth(SoundFontBank bank, int sampleRate, SoundFontSynthOptions? options = null)
    {
        _options = options ?? new SoundFontSynthOptions();
        Array.Fill(_programGains, 1);
        Check(sampleRate, LowestSampleRate, HighestSampleRate, nameof(sampleRate));
        Check(_options.ChannelCount, 1, 64, nameof(options));
        Check(_options.MaxVoices, 1, 1024, nameof(options));
        if (!(_options.Gain is >= 0 and <= 16))
            throw new ArgumentOutOfRangeException(nameof(options), "Gain must be 0-16.");

        _bank = bank;
        SampleRate = sampleRate;
        _context = new VoiceContext(sampleRate, _options.Gain, WeightTable.For(_options.Interpolation));
        _kernel = LaneKernel.Of(_options.Kernel);
        _groups = new VoiceGroup[(_options.MaxVoices + SpareVoices + VoiceLanes.Count - 1) / VoiceLanes.Count];
        _voices = new Voice[_groups.Length * VoiceLanes.Count];
        for (var i = 0; i < _groups.Length; i++)
        {
            _groups[i] = new VoiceGroup(_context);
            for (var lane = 0; lane < VoiceLanes.Count; lane++)
                _voices[(i * VoiceLanes.Count) + lane] = _groups[i][lane];
        }

        _latelyPrepared = new ResolvedPreset?[2 * _options.ChannelCount];
        _channels = new ChannelState[_options.ChannelCount];
        for (var i = 0; i < _channels.Length; i++)
        {
            _channels[i] = new ChannelState(i == FirstPercussionChannel);
            Program(i, 0);
        }

        // These have not been requested.
        _substitutedPrograms = 0;

        var sendLength = _options.Dry ? 0 : Quantum.Frames;
        _reverbSend = new float[sendLength];
        _chorusSend = new float[sendLength];
        _wetLeft = new float[sendLength];
        _wetRight = new float[sendLength];
        if (!_options.Dry)
        {
            _reverb = new Reverb(sampleRate);
            _chorus = new Chorus(sampleRate);
        }
    }

    /// <inheritdoc/>
    public int SampleRate { get; }

    /// <inheritdoc/>
    public int ChannelCount => _channels.Length;

    /// <summary>The number of voices ended in their attack to make room for new ones. For tests.</summary>
    internal long StolenAttacks => Interlocked.Read(ref _stolenAttacks);

    /// <summary>The number of voices less than 40 dB below the mix that faded slowly to make room. For tests.</summary>
    internal long SlowlyStolenVoices => Interlocked.Read(ref _slowlyStolenVoices);

    /// <summary>The number of voices ended to make room for new ones. From any thread.</summary>
    public long StolenVoices => Interlocked.Read(ref _stolenVoices);

    /// <summary>The number of notes that lost an audible voice this way, louder than -60 dB of full scale; each note counts once. From any thread.</summary>
    public long CutNotes => Interlocked.Read(ref _cutNotes);

    /// <summary>The number of calls ignored because a channel, key or controller does not exist. From any thread.</summary>
    public long IgnoredCalls => Interlocked.Read(ref _ignoredCalls);

    /// <summary>The number of program changes that got another preset, because the bank lacks the requested one. From any thread.</summary>
    public long SubstitutedPrograms => Interlocked.Read(ref _substitutedPrograms);

    /// <summary>The number of program changes that left a channel with its old sound, because the new one was not prepared. From any thread.</summary>
    public long UnpreparedPrograms => Interlocked.Read(ref _unpreparedPrograms);

    /// <inheritdoc/>
    public int ActiveVoices
    {
        get
        {
            var count = 0;
            foreach (var group in _groups)
                count += group.ActiveVoices;
            return count;
        }
    }

    /// <summary>
    /// Prepares the preset that <see cref="Program"/> would now choose on this channel, and reads its samples from disk. The last two for each
    /// channel stay ready even when the bank's memory is full. For any thread except the audio thread.
    /// </summary>
    /// <returns>The preset, and whether it is the requested one.</returns>
    /// <exception cref="SoundFontException">It cannot be resolved.</exception>
    public PresetChoice Prepare(int channel, int program)
    {
        var bank = IsChannel(channel) ? _channels[channel].EffectiveBank : 0;
        var (source, choice) = Choose(bank, program);
        var prepared = source.Resolve(choice.Preset);
        // Until the channel selects it, nothing else may hold it when the bank's memory is full.
        if (Array.IndexOf(_latelyPrepared, prepared) < 0)
            _latelyPrepared[unchecked((uint)Interlocked.Increment(ref _preparations)) % (uint)_latelyPrepared.Length] = prepared;
        if (source == _bank)
            Balance(bank, program);
        return choice;
    }

    private (SoundFontBank Bank, PresetChoice Choice) Choose(int bank, int program)
    {
        var own = _bank.FindPreset(bank, program);
        return own.IsOtherKind && _options.StandIn is { } standIn && standIn.FindPreset(bank, program) is { IsOtherKind: false } other
            ? (standIn, other with { IsExact = false })
            : (_bank, own);
    }

    private float GainOf(SoundFontBank source, int bank, int program) =>
        source == _bank ? Volatile.Read(ref _programGains[GainIndex(bank, program)]) : _options.StandInGain;

    private void Balance(int bank, int program)
    {
        var index = GainIndex(bank, program);
        if (_options.ProgramGain is not { } gain || _isBalanced[index])
            return;
        Volatile.Write(ref _programGains[index], Math.Clamp(gain(bank, program), 0, HighestProgramGain));
        _isBalanced[index] = true;
    }

    private static int GainIndex(int bank, int program) =>
        Math.Clamp(program, 0, ProgramCount - 1) + (bank == SoundFontPreset.PercussionBank ? ProgramCount : 0);

    /// <summary>
    /// Runs every code path once, on a second instance, so that nothing is compiled during playback. Takes a fraction of a second. From then
    /// on <see cref="Program"/> accepts only prepared presets.
    /// </summary>
    public void WarmUp()
    {
        if (!_isWarm)
        {
            var run = new SoundFontSynth(
                _bank,
                SampleRate,
                _options with { MaxVoices = Math.Min(_options.MaxVoices, WarmUpVoices), ProgramGain = null, ResolvesAtFirstNote = true });

            // A sound that nobody has prepared may take seconds to decode.
            run._isWarm = true;
            WarmUpRun.Run(run, Array.Find(_latelyPrepared, preset => preset is not null) ?? _channels[0].Preset);
        }
        _isWarm = true;
    }

    /// <summary>Sets a channel to a sound outside the bank.</summary>
    internal void Use(int channel, ResolvedPreset sound) => _channels[channel].Preset = sound;

    /// <summary>Sets whether a channel takes its programs from the percussion bank, from the next program change on.</summary>
    public void SetPercussion(int channel, bool isPercussion)
    {
        if (TryChannel(channel) is not { } state)
            return;
        state.IsPercussion = isPercussion;
        state.HeldKeys.Clear();
    }

    /// <summary>The current preset of a channel, or null.</summary>
    public SoundFontPreset? PresetOn(int channel) =>
        IsChannel(channel) ? _channels[channel].Preset?.Preset ?? _channels[channel].Unresolved : null;

    /// <summary>Silences everything at once and resets every channel; programs and frame count stay.</summary>
    public void Reset()
    {
        foreach (var voice in Active())
            voice.FadeOut(_context.FadeFrames);
        foreach (var channel in _channels)
            channel.Reset();
    }

    /// <inheritdoc/>
    [MethodImpl(HotCode.Compiled)]
    public void NoteOn(int channel, int key, int velocity)
    {
        if (velocity <= 0)
        {
            NoteOff(channel, key);
            return;
        }
        if (TryChannel(channel) is not { } state || !IsSevenBits(key))
            return;
        velocity = Math.Min(velocity, 127);
        if (state.IsMono)
        {
            state.HeldKeys.Press(key, velocity);
            PlayAlone(state, channel, key, velocity);
            return;
        }
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel && voice.Key == key)
                voice.Release();
        }
        _noteId++;
        Start(state, channel, key, velocity, isLegato: false);
    }

    [MethodImpl(HotCode.Compiled)]
    private void Start(ChannelState state, int channel, int key, int velocity, bool isLegato)
    {
        if (state.Preset is null)
            Resolve(state);
        if (state.Preset is not { } preset)
            return;
        var started = 0;
        // Notes of a channel that plays one at a time may go on as another key, which needs the samples of their own keys.
        var touch = state.BorrowedKeys == 0 || state.IsMono
            ? new NoteTouch(key, 0, 0)
            : state.Variety.Next(preset.Regions, key, velocity, state.IsPercussion ? 0 : state.BorrowedKeys);
        foreach (var region in preset.Regions)
        {
            if (!region.Answers(touch.SampleKey, velocity) || (isLegato && IsPlaying(channel, region)))
                continue;
            // A bank may put any number of layers on one key; more layers than voices would only steal from each other.
            if (started++ == _options.MaxVoices)
                break;
            if (region.ExclusiveClass != 0)
                Choke(channel, region.ExclusiveClass);
            FreeVoice().Start(region, state, channel, key, velocity, _noteId, touch);
        }
    }

    private void Resolve(ChannelState state)
    {
        if (state.Unresolved is not { } preset || state.UnresolvedBank is not { } bank)
            return;
        state.Preset = _isWarm ? bank.TryGetResolved(preset) : bank.Resolve(preset);
        state.Unresolved = null;
    }

    /// <summary>
    /// Plays a note on a channel that plays one at a time. With the legato footswitch, voices whose key is down go on as the new key; all
    /// other voices of the channel end.
    /// </summary>
    [MethodImpl(HotCode.Compiled)]
    private void PlayAlone(ChannelState state, int channel, int key, int velocity)
    {
        var previous = state.IsLegato ? LatestHeldNote(channel) : 0;
        _noteId++;
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex != channel)
                continue;
            if (voice.NoteId == previous && voice.CanMoveTo(key) && state.Preset is { } preset && voice.PlaysOneOf(preset.Regions))
            {
                voice.MoveTo(key, _noteId);
                // Voices that go on keep the velocity of their attack, and so do layers that join them.
                velocity = voice.Velocity;
            }
            else
            {
                voice.FadeOut(_context.ChokeFrames);
            }
        }
        Start(state, channel, key, velocity, isLegato: true);
    }

    // The number of the latest note on a channel whose key is down, or 0.
    [MethodImpl(HotCode.Compiled)]
    private long LatestHeldNote(int channel)
    {
        var latest = 0L;
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel && !voice.IsKeyUp && !voice.IsFading)
                latest = Math.Max(latest, voice.NoteId);
        }
        return latest;
    }

    [MethodImpl(HotCode.Compiled)]
    private bool IsPlaying(int channel, Region region)
    {
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel && voice.NoteId == _noteId && voice.Plays(region))
                return true;
        }
        return false;
    }

    /// <inheritdoc/>
    [MethodImpl(HotCode.Compiled)]
    public void NoteOff(int channel, int key)
    {
        if (TryChannel(channel) is not { } state || !IsSevenBits(key))
            return;
        if (state.IsMono && LiftAlone(state, channel, key))
            return;
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel && voice.Key == key && !voice.IsKeyUp)
                voice.KeyUp();
        }
    }

    /// <inheritdoc/>
    [MethodImpl(HotCode.Compiled)]
    public void Control(int channel, int controller, int value)
    {
        if (TryChannel(channel) is not { } state || !IsSevenBits(controller))
            return;
        value = Math.Clamp(value, 0, 127);
        switch (controller)
        {
            case MidiController.BankSelect:
                state.Bank = value;
                break;
            case MidiController.DataEntry or MidiController.DataEntryLsb
                or MidiController.NonRegisteredLsb or MidiController.NonRegisteredMsb
                or MidiController.RegisteredLsb or MidiController.RegisteredMsb:
                if (state.SetParameter(controller, value))
                    UpdateAll(channel);
                break;
            case MidiController.AllSoundOff:
                state.HeldKeys.Clear();
                FadeOut(channel);
                break;
            case MidiController.ResetAllControllers:
                state.ResetControllers();
                Sostenuto(channel, isDown: false);
                ReleaseSustained(channel);
                UpdateAll(channel);
                break;
            case MidiController.MonoModeOn:
                SetMono(channel, value);
                break;
            case MidiController.PolyModeOn:
                SetPoly(channel);
                break;
            case >= MidiController.AllNotesOff and < MidiController.MonoModeOn:
                LiftAllKeys(channel);
                break;
            default:
                if (state.Controllers[controller] == value)
                    break;
                var (wasSostenuto, wasMono) = (state.IsSostenuto, state.IsMono);
                state.Controllers[controller] = (byte)value;
                if (controller == MidiController.Sustain && !state.IsSustained)
                    ReleaseSustained(channel);
                if (state.IsSostenuto != wasSostenuto)
                    Sostenuto(channel, state.IsSostenuto);
                if (state.IsMono != wasMono)
                    state.HeldKeys.Clear();
                UpdateListeners(channel, isMidiController: true, controller);
                break;
        }
    }

    /// <inheritdoc/>
    public void Program(int channel, int program)
    {
        if (TryChannel(channel) is not { } state)
            return;
        program = Math.Clamp(program, 0, 127);
        var (source, choice) = Choose(state.EffectiveBank, program);
        if (!choice.IsExact)
            Interlocked.Increment(ref _substitutedPrograms);
        if (_options.ResolvesAtFirstNote && !_isWarm)
        {
            state.Preset = null;
            (state.Unresolved, state.UnresolvedBank) = (choice.Preset, source);
            state.ProgramGain = GainOf(source, state.EffectiveBank, program);
            state.BorrowedKeys = source == _bank ? _options.BorrowedKeys : _options.StandInBorrowedKeys;
            return;
        }
        var resolved = source.TryGetResolved(choice.Preset);
        if (resolved is null && !_isWarm)
            resolved = source.Resolve(choice.Preset);
        // An unprepared sound cannot be loaded here, so the channel keeps its current sound.
        if (resolved is not null)
        {
            state.Preset = resolved;
            state.ProgramGain = GainOf(source, state.EffectiveBank, program);
            state.BorrowedKeys = source == _bank ? _options.BorrowedKeys : _options.StandInBorrowedKeys;
        }
        else
            Interlocked.Increment(ref _unpreparedPrograms);
    }

    /// <inheritdoc/>
    [MethodImpl(HotCode.Compiled)]
    public void PitchWheel(int channel, int value)
    {
        if (TryChannel(channel) is not { } state)
            return;
        value = Math.Clamp(value, 0, 16383);
        if (state.PitchWheel == value)
            return;
        state.PitchWheel = value;
        UpdateListeners(channel, isMidiController: false, ModulatorSource.PitchWheel);
    }

    /// <inheritdoc/>
    [MethodImpl(HotCode.Compiled)]
    public void ChannelPressure(int channel, int value)
    {
        if (TryChannel(channel) is not { } state)
            return;
        value = Math.Clamp(value, 0, 127);
        if (state.Pressure == value)
            return;
        state.Pressure = value;
        UpdateListeners(channel, isMidiController: false, ModulatorSource.ChannelPressure);
    }

    /// <inheritdoc/>
    [MethodImpl(HotCode.Compiled)]
    public void KeyPressure(int channel, int key, int value)
    {
        if (TryChannel(channel) is not { } state || !IsSevenBits(key))
            return;
        value = Math.Clamp(value, 0, 127);
        if (state.KeyPressures[key] == value)
            return;
        state.KeyPressures[key] = (byte)value;
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel && voice.Key == key && voice.ListensTo(isMidiController: false, ModulatorSource.PolyPressure))
                voice.ControllersChanged();
        }
    }

    /// <inheritdoc/>
    [MethodImpl(HotCode.Compiled)]
    public void Render(Span<float> left, Span<float> right)
    {
        left.Clear();
        right.Clear();
        var length = Math.Min(left.Length, right.Length);
        var done = 0;
        while (done < length)
        {
            var offset = Quantum.Offset(_frame);
            var count = Math.Min(Quantum.Frames - offset, length - done);
            RenderWithinQuantum(offset, left.Slice(done, count), right.Slice(done, count));
            done += count;
            _frame += count;
            if (!_options.Dry && Quantum.Offset(_frame) == 0)
                RenderEffects();
        }
    }

    [MethodImpl(HotCode.Compiled)]
    private void RenderWithinQuantum(int offset, Span<float> left, Span<float> right)
    {
        var reverb = _options.Dry ? default : _reverbSend.AsSpan(offset, left.Length);
        var chorus = _options.Dry ? default : _chorusSend.AsSpan(offset, left.Length);
        if (_kernel is { } kernel)
            RenderLanes(kernel, Quantum.Frames - offset, left, right, reverb, chorus);
        else
        {
            foreach (var voice in _voices)
            {
                if (voice.IsActive)
                    voice.Render(Quantum.Frames - offset, left, right, reverb, chorus);
            }
        }
        if (_options.Dry)
            return;
        Add(_wetLeft.AsSpan(offset, left.Length), left);
        Add(_wetRight.AsSpan(offset, left.Length), right);
    }

    [MethodImpl(HotCode.Compiled)]
    private unsafe void RenderLanes(
        LaneKernel kernel, int framesToBoundary, Span<float> left, Span<float> right, Span<float> reverb, Span<float> chorus)
    {
        _buffers.Clear(left.Length, kernel.Width);
        foreach (var group in _groups)
            group.Render(kernel, _buffers, framesToBoundary, left.Length, !_options.Dry);
        kernel.Collect(_buffers.Left, left);
        kernel.Collect(_buffers.Right, right);
        if (_options.Dry)
            return;
        kernel.Collect(_buffers.Reverb, reverb);
        kernel.Collect(_buffers.Chorus, chorus);
    }

    [MethodImpl(HotCode.Compiled)]
    private void RenderEffects()
    {
        Array.Clear(_wetLeft);
        Array.Clear(_wetRight);
        _reverb!.Process(_reverbSend, _wetLeft, _wetRight);
        _chorus!.Process(_chorusSend, _wetLeft, _wetRight);
        Array.Clear(_reverbSend);
        Array.Clear(_chorusSend);
    }

    [MethodImpl(HotCode.Compiled)]
    private static void Add(ReadOnlySpan<float> what, Span<float> to)
    {
        unchecked
        {
            var i = 0;
            for (; i + Vector128<float>.Count <= to.Length; i += Vector128<float>.Count)
                (Vector128.Create(to[i..]) + Vector128.Create(what[i..])).CopyTo(to[i..]);
            for (; i < to.Length; i++)
                to[i] += what[i];
        }
    }

    private static void Check(int value, int least, int greatest, string name)
    {
        if (value < least || value > greatest)
            throw new ArgumentOutOfRangeException(name, value, $"outside {least}-{greatest}");
    }

    private bool IsChannel(int channel) => channel >= 0 && channel < _channels.Length;

    private ChannelState? TryChannel(int channel)
    {
        if (IsChannel(channel))
            return _channels[channel];
        Interlocked.Increment(ref _ignoredCalls);
        return null;
    }

    private bool IsSevenBits(int value)
    {
        if (value is >= 0 and <= 127)
            return true;
        Interlocked.Increment(ref _ignoredCalls);
        return false;
    }

    /// <summary>Ends the notes of a class on a channel, except the note that is starting.</summary>
    [MethodImpl(HotCode.Compiled)]
    internal void Choke(int channel, int exclusiveClass)
    {
        foreach (var voice in Active())
        {
            // The layers of one note do not end each other.
            if (voice.ChannelIndex == channel && voice.ExclusiveClass == exclusiveClass && voice.NoteId != _noteId)
                voice.FadeOut(_context.ChokeFrames);
        }
    }

    private void FadeOut(int channel)
    {
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel)
                voice.FadeOut(_context.FadeFrames);
        }
    }

    [MethodImpl(HotCode.Compiled)]
    private void LiftAllKeys(int channel)
    {
        _channels[channel].HeldKeys.Clear();
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel && !voice.IsKeyUp)
                voice.KeyUp();
        }
    }

    [MethodImpl(HotCode.Compiled)]
    private void ReleaseSustained(int channel)
    {
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel)
                voice.ReleaseUnlessHeld();
        }
    }

    [MethodImpl(HotCode.Compiled)]
    private void Sostenuto(int channel, bool isDown)
    {
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel)
                voice.Sostenuto(isDown);
        }
    }

    /// <summary>Lifts a key of a channel that plays one note at a time.</summary>
    /// <returns>Whether a key that is still down took over.</returns>
    [MethodImpl(HotCode.Compiled)]
    private bool LiftAlone(ChannelState state, int channel, int key)
    {
        var keys = state.HeldKeys;
        var sounded = !keys.IsEmpty && keys.Latest == key;
        keys.Lift(key);
        if (!sounded || keys.IsEmpty)
            return false;
        PlayAlone(state, channel, keys.Latest, keys.LatestVelocity);
        return true;
    }

    // MIDI 1.0: the value is the number of channels, from this one up, that play one note at a time. 0 stands for this channel alone:
    // each channel is an instrument of its own. So does a value that no number of channels has, as switches send it.
    private void SetMono(int channel, int value)
    {
        SetPoly(channel);
        var count = Math.Clamp(value > PortChannels ? 1 : value, 1, Math.Min(PortChannels - (channel % PortChannels), _channels.Length - channel));
        _channels[channel].MonoChannels = count;
        for (var i = channel; i < channel + count; i++)
        {
            LiftAllKeys(i);
            _channels[i].IsMonoMode = true;
        }
    }

    private void SetPoly(int channel)
    {
        var count = Math.Max(1, _channels[channel].MonoChannels);
        _channels[channel].MonoChannels = 0;
        for (var i = channel; i < channel + count; i++)
        {
            LiftAllKeys(i);
            _channels[i].IsMonoMode = false;
        }
    }

    [MethodImpl(HotCode.Compiled)]
    private void UpdateAll(int channel)
    {
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel)
                voice.ControllersChanged();
        }
    }

    [MethodImpl(HotCode.Compiled)]
    private void UpdateListeners(int channel, bool isMidiController, int index)
    {
        foreach (var voice in Active())
        {
            if (voice.ChannelIndex == channel && voice.ListensTo(isMidiController, index))
                voice.ControllersChanged();
        }
    }

    [MethodImpl(HotCode.Compiled)]
    private Voice FreeVoice()
    {
        var sounding = 0;
        Voice? softest = null;
        foreach (var voice in Active())
        {
            if (!voice.IsFading)
                sounding++;
            else if (softest is null || voice.Level < softest.Level)
                softest = voice;
        }
        if (sounding >= _options.MaxVoices)
            Steal();
        foreach (var group in _groups)
        {
            if (group.FirstFree is { } free)
                return free;
        }
        // More notes at once than spare places: cut the softest fade.
        softest!.Cut();
        return softest;
    }

    /// <summary>
    /// Fades out the voice that is missed least. One that can be heard in the mix fades slowly enough not to click.
    /// </summary>
    private void Steal()
    {
        Voice? leastMissed = null;
        var mix = 0f;
        foreach (var voice in Active())
        {
            mix += voice.Level * voice.Level;
            if (!voice.IsFading && (leastMissed is null || IsLessMissed(voice, leastMissed)))
                leastMissed = voice;
        }
        if (leastMissed is null)
            return;
        if (leastMissed.Loudness > AudibleLevel && !leastMissed.IsNoteCut)
        {
            Interlocked.Increment(ref _cutNotes);
            foreach (var voice in Active())
                voice.IsNoteCut |= voice.NoteId == leastMissed.NoteId;
        }
        var isMasked = leastMissed.Level <= MaskedShare * MathF.Sqrt(mix);
        if (leastMissed.IsInAttack)
            Interlocked.Increment(ref _stolenAttacks);
        if (!isMasked)
            Interlocked.Increment(ref _slowlyStolenVoices);
        leastMissed.FadeOut(isMasked ? _context.FadeFrames : _context.SlowFadeFrames);
        Interlocked.Increment(ref _stolenVoices);
    }

    private ActiveVoiceEnumerator Active() => new(_groups);

    /// <summary>
    /// The order for stealing: voices of the starting note come last, then those in their attack; otherwise the softer one goes, where a released
    /// voice counts for less because it is going anyway; of two alike the older one.
    /// </summary>
    private bool IsLessMissed(Voice voice, Voice other)
    {
        if (voice.NoteId == _noteId != (other.NoteId == _noteId))
            return other.NoteId == _noteId;
        if (voice.IsInAttack != other.IsInAttack)
            return other.IsInAttack;
        var (one, two) = (Weight(voice), Weight(other));
        return one != two ? one < two : voice.NoteId < other.NoteId;
    }

    private static float Weight(Voice voice) => voice.IsReleased ? voice.Loudness * ReleasedWeight : voice.Loudness;
}
