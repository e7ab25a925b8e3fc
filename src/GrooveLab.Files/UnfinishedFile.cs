using System.Runtime.InteropServices;
using System.Runtime.Versioning;
using GrooveLab.Files.Posix;
using Microsoft.Win32.SafeHandles;

namespace GrooveLab.Files;

/// <summary>
/// A file that is being written: it appears complete at <see cref="Commit"/>, or not at all. Until then its content has no name if the
/// system supports that, otherwise a temporary one in the same folder. Pipes and devices are written to directly. For one thread.
/// </summary>
/// <remarks>
/// At the end content and name are on the disk. A replaced file passes its permissions, and its owner if the user is allowed to,
/// to the new one. A hard link to it keeps the old content.
/// </remarks>
public sealed class UnfinishedFile : IDisposable
{
    // How often an exchange is tried, and how often and how far apart it is asked in between whether a program still has the file open for
    // writing: for half a second each time. The screen stands still meanwhile.
    private const int MostExchanges = 3;
    private const int MostQuestions = 50;
    private static readonly TimeSpan BetweenQuestions = TimeSpan.FromMilliseconds(10);

    private const int BufferBytes = 1 << 16;

    private readonly FileTarget _target;
    private readonly bool _replace;
    private readonly string _like;
    private readonly bool _plain;
    private readonly Lock _gate = new();
    private FileStream? _file;
    private string? _temporary;

    // The temporary name while it can hold nothing but this file's own content; read from other threads.
    private volatile string? _removable;
    private bool _ended;

    private UnfinishedFile(FileTarget target, bool replace, string like, bool plain)
    {
        _target = target;
        _replace = replace;
        _like = like;
        _plain = plain;
        if (target.IsStream)
        {
            // Nothing to remove; and opening a pipe waits for its reader.
            Stream = Open();
            return;
        }

        lock (_gate)
        {
            try
            {
                // Before there is a file, and under the lock, so that a signal in this instant leaves none.
                Stream = Unfinished.Add(this) ? Open() : throw FileErrors.Refused(FileProblem.Abandoned, Path);
            }
            catch
            {
                End();
                throw;
            }
        }
    }

    /// <summary>
    /// The stream for the content. It can be rewound, except for pipes and devices. Throws <see cref="FileRefusedException"/> if the disk
    /// is full or writing fails otherwise, with the file's own name.
    /// </summary>
    public Stream Stream { get; }

    /// <summary>The file as the caller named it.</summary>
    public string Path => _target.Given;

    /// <summary>The target.</summary>
    internal FileTarget Target => _target;

    /// <summary>Begins a file.</summary>
    /// <param name="path">Its path; symbolic links are followed.</param>
    /// <param name="options">The options.</param>
    /// <exception cref="FileRefusedException">It cannot be written there; the message says why.</exception>
    public static UnfinishedFile Begin(string path, WriteOptions options)
    {
        if (options.MakeFolder)
        {
            MakeFolder(path);
        }

        var target = FileTarget.Of(path);
        if (!target.IsStream)
        {
            if (target.Facts.Kind == FileKind.Regular && !options.Replace)
            {
                throw FileErrors.Refused(FileProblem.AlreadyExists, path);
            }

            RefuseProtected(target);
            Temporaries.Sweep(target.Folder);
        }

        return new UnfinishedFile(target, options.Replace, target.WholePath, options.IsPlain);
    }

    /// <summary>Forces the content to the disk and gives it its name.</summary>
    /// <exception cref="FileRefusedException">The disk is full, or a file of that name appeared that may not be replaced. Nothing is left behind.</exception>
    public void Commit()
    {
        Finish();
        PutInPlace(_replace);
    }

    /// <summary>Removes what was written, unless it was committed.</summary>
    public void Dispose()
    {
        lock (_gate)
        {
            End();
        }
    }

    /// <summary>Starts a copy beside a file, with its permissions. Errors name the file.</summary>
    /// <param name="file">The file.</param>
    /// <param name="name">The copy's name; not followed if it is a link.</param>
    /// <param name="plain">As in <see cref="WriteOptions.IsPlain"/>.</param>
    internal static UnfinishedFile BeginBeside(FileTarget file, string name, bool plain) =>
        new(file with { Name = name }, replace: false, file.WholePath, plain);

    /// <summary>Forces content and permissions to the disk; the name is still missing.</summary>
    internal void Finish()
    {
        SafeFileHandle? content = null;
        Guarded(() =>
        {
            Stream.Flush();
            content = _file?.SafeFileHandle;
            if (content is not null && !OperatingSystem.IsWindows())
            {
                TakePermissions(content);
            }
        });
        if (content is null)
        {
            return;
        }

        try
        {
            // Not guarded: a slow disk must not prevent that the file is abandoned meanwhile.
            RandomAccess.FlushToDisk(content);
        }
        catch (ObjectDisposedException)
        {
            throw FileErrors.Refused(FileProblem.Abandoned, Path);
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            Dispose();
            throw FileErrors.Of(failure, Path);
        }
    }

    /// <summary>Gives the finished content its name.</summary>
    /// <param name="replace">Whether a file of that name is replaced.</param>
    internal void PutInPlace(bool replace) => Guarded(() =>
    {
        if (_target.IsStream)
        {
            Stream.Dispose();
        }
        else if (replace)
        {
            MoveOver(GiveTemporaryName(), _target.WholePath);
        }
        else
        {
            MoveUnlessThere();
        }

        _temporary = null;
        SyncFolder(_target);
        End();
    });

    /// <summary>Exchanges the finished content with that of the file, if the file has a known content at that moment.</summary>
    /// <param name="own">The finished content.</param>
    /// <param name="known">The content that may be replaced.</param>
    /// <param name="found">The content found instead; null if there is none.</param>
    /// <returns>False if another content was found; the file is unchanged.</returns>
    internal bool PutInPlaceOf(ContentHash own, ContentHash known, out ContentHash? found)
    {
        ContentHash? there = known;
        Guarded(() =>
        {
            var temporary = GiveTemporaryName();
            // After the exchange it is the name of the replaced content.
            _removable = null;
            if (!OperatingSystem.IsLinux() || _plain || !ExchangeIf(temporary, own, known, ref there))
            {
                there = HashOf(_target.WholePath);
                if (there == known)
                {
                    MoveOver(temporary, _target.WholePath);
                    _temporary = null;
                }
            }

            End();
            SyncFolder(_target);
        });
        found = there;
        return there == known;
    }

    /// <summary>
    /// Forces the names of a folder to the disk; otherwise a power failure can lose a name whose content is there. Not every file system
    /// can.
    /// </summary>
    internal static void SyncFolder(FileTarget target)
    {
        if (target.IsStream || OperatingSystem.IsWindows())
        {
            return;
        }

        using var folder = PosixCalls.OpenToRead(target.Folder);
        if (folder is not null && PosixCalls.Sync(folder) != 0 && Marshal.GetLastPInvokeError() is var error and PosixErrors.InputOutput)
        {
            throw FileErrors.OfNumber(error, target.Given);
        }
    }

    /// <summary>Abandons the file: removes what was written, and refuses further writes. From any thread.</summary>
    internal void Abandon()
    {
        // A commit that hangs on a disk must not prevent the end of the program.
        if (_gate.TryEnter(TimeSpan.FromSeconds(1)))
        {
            try
            {
                End();
            }
            finally
            {
                _gate.Exit();
            }
        }
        else if (_removable is { } name)
        {
            // The rename that hangs finds nothing any more, or has been done.
            Temporaries.Remove(name);
        }
    }

    /// <summary>The bytes of a file, also of one that another program makes shorter meanwhile.</summary>
    internal static byte[] Whole(string path)
    {
        using var file = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete, bufferSize: 0);
        using var bytes = new MemoryStream();
        file.CopyTo(bytes);
        return bytes.ToArray();
    }

    /// <summary>The content of a file; null if it does not exist.</summary>
    internal static ContentHash? HashOf(string path)
    {
        try
        {
            return ContentHash.Of(Whole(path));
        }
        catch (Exception failure) when (failure is FileNotFoundException or DirectoryNotFoundException)
        {
            return null;
        }
    }

    private static void MakeFolder(string path)
    {
        try
        {
            if (System.IO.Path.GetDirectoryName(System.IO.Path.GetFullPath(path)) is { Length: > 0 } folder)
            {
                Directory.CreateDirectory(folder);
            }
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, path);
        }
        catch (ArgumentException)
        {
            throw FileErrors.Refused(FileProblem.InvalidName, path);
        }
    }

    // A rename checks only the folder; a write-protected file must not be replaced either.
    private static void RefuseProtected(FileTarget target)
    {
        if (target.Facts.Kind != FileKind.Regular)
        {
            return;
        }

        const UnixFileMode Writers = UnixFileMode.UserWrite | UnixFileMode.GroupWrite | UnixFileMode.OtherWrite;
        var isProtected = OperatingSystem.IsWindows()
            ? File.GetAttributes(target.WholePath).HasFlag(FileAttributes.ReadOnly)
            : (target.Facts.Mode is { } mode && (mode & Writers) == UnixFileMode.None)
                || (PosixCalls.Access(target.WholePath, PosixCalls.MayWrite) != 0 && Marshal.GetLastPInvokeError() == PosixErrors.NoAccess);
        if (isProtected)
        {
            throw FileErrors.Refused(FileProblem.WriteProtected, target.Given);
        }
    }

    private TargetStream Open()
    {
        try
        {
            if (_target.Descriptor is { } descriptor && !OperatingSystem.IsWindows())
            {
                return new TargetStream(new DescriptorStream(descriptor), this, canSeek: false);
            }

            if (_target.Descriptor is not null)
            {
                // Windows has no names for open streams but that of standard output.
                return new TargetStream(Console.OpenStandardOutput(), this, canSeek: false);
            }

            if (_target.IsStream)
            {
                return new TargetStream(
                    new FileStream(_target.WholePath, FileMode.Open, FileAccess.Write, FileShare.ReadWrite, bufferSize: 0), this, canSeek: false);
            }

            _file = (_plain ? null : Nameless()) ?? Named();
            return new TargetStream(_file, this, canSeek: true);
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, Path);
        }
    }

    // Nothing of such a file remains, however the program ends. Naming it at the end needs the process's own folder in /proc.
    private FileStream? Nameless()
    {
        if (!OperatingSystem.IsLinux() || PosixCalls.NamelessFlags is not { } flags || !Directory.Exists("/proc/self/fd"))
        {
            return null;
        }

        var descriptor = PosixCalls.Open(_target.Folder, flags, (uint)FirstMode);
        return descriptor < 0 ? null : new FileStream(new SafeFileHandle(descriptor, ownsHandle: true), FileAccess.Write, BufferBytes);
    }

    private FileStream Named()
    {
        _temporary = Temporaries.NewPath(_target.Folder);
        _removable = _temporary;
        var options = new FileStreamOptions
        {
            Mode = FileMode.CreateNew,
            Access = FileAccess.Write,
            Share = FileShare.Delete,
            BufferSize = BufferBytes,
        };
        if (!OperatingSystem.IsWindows())
        {
            options.UnixCreateMode = FirstMode;
        }

        return new FileStream(_temporary, options);
    }

    // A file that replaces a private one is private from its first byte.
    private UnixFileMode FirstMode => _target.Facts.Mode is null
        ? UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead | UnixFileMode.GroupWrite | UnixFileMode.OtherRead | UnixFileMode.OtherWrite
        : UnixFileMode.UserRead | UnixFileMode.UserWrite;

    [UnsupportedOSPlatform("windows")]
    private void TakePermissions(SafeFileHandle file)
    {
        var facts = _target.Facts;
        if (facts.Mode is not { } mode)
        {
            return;
        }

        const uint Unchanged = uint.MaxValue;
        if (facts is { User: { } user, Group: { } group }
            && PosixCalls.ChangeOwner(file, user, group) != 0
            && PosixCalls.ChangeOwner(file, Unchanged, group) != 0)
        {
            // The file now has another group, which gets no more rights than everyone.
            var everybody = (int)mode & 7;
            mode &= (UnixFileMode)(~0x38 | (everybody << 3));
        }

        File.SetUnixFileMode(file, mode);
        if (OperatingSystem.IsLinux())
        {
            ExtendedAttributes.Copy(_like, file);
        }
    }

    private string GiveTemporaryName()
    {
        if (_temporary is null)
        {
            _temporary = Temporaries.NewPath(_target.Folder);
            if (OperatingSystem.IsLinux() && LinkTo(_temporary) is var error and not 0)
            {
                _temporary = null;
                throw FileErrors.OfNumber(error, Path);
            }

            _removable = _temporary;
        }

        _file?.Dispose();
        return _temporary;
    }

    [SupportedOSPlatform("linux")]
    private int LinkTo(string name)
    {
        var own = $"/proc/self/fd/{_file!.SafeFileHandle.DangerousGetHandle()}";
        var answer = PosixCalls.LinkAt(PosixCalls.WorkingFolder, own, PosixCalls.WorkingFolder, name, PosixCalls.FollowLink);
        return answer == 0 ? 0 : Marshal.GetLastPInvokeError();
    }

    private void MoveOver(string temporary, string path)
    {
        if (!OperatingSystem.IsWindows())
        {
            if (PosixCalls.Rename(temporary, path) != 0)
            {
                throw FileErrors.OfNumber(Marshal.GetLastPInvokeError(), Path);
            }
        }
        else if (File.Exists(path))
        {
            // Keeps the access list and attributes of the file.
            File.Replace(temporary, path, destinationBackupFileName: null);
        }
        else
        {
            File.Move(temporary, path, overwrite: true);
        }
    }

    private void MoveUnlessThere()
    {
        var path = _target.WholePath;
        if (_temporary is null && OperatingSystem.IsLinux())
        {
            if (LinkTo(path) is var error and not 0)
            {
                throw FileErrors.OfNumber(error, Path);
            }

            return;
        }

        var temporary = GiveTemporaryName();
        if (OperatingSystem.IsWindows())
        {
            File.Move(temporary, path, overwrite: false);
        }
        else if (PosixCalls.Link(temporary, path) == 0)
        {
            Temporaries.Remove(temporary);
        }
        else
        {
            var error = Marshal.GetLastPInvokeError();
            if (error is not (PosixErrors.NotPermitted or PosixErrors.TooManyHardLinks) && error != PosixErrors.NotSupported)
            {
                throw FileErrors.OfNumber(error, Path);
            }

            // A file system without hard links.
            File.Move(temporary, path, overwrite: false);
        }
    }

    /// <summary>
    /// Exchanges the names in one step, and back if the replaced content was not the known one, or if a program has it open for writing.
    /// </summary>
    /// <returns>False if the system cannot do that; nothing has changed.</returns>
    [SupportedOSPlatform("linux")]
    private bool ExchangeIf(string temporary, ContentHash own, ContentHash known, ref ContentHash? there)
    {
        for (var attempt = 1; ; attempt++)
        {
            if (!Exchanged(temporary, out var error))
            {
                if (error == PosixErrors.NoSuchFile)
                {
                    there = null;
                    return true;
                }

                return error == PosixErrors.Invalid || error == PosixErrors.NoSuchCall || error == PosixErrors.NotSupported
                    ? false
                    : throw FileErrors.OfNumber(error, Path);
            }

            if (IsUnchanged(temporary, known, out there))
            {
                return true;
            }

            if (!Exchanged(temporary, out _) || !IsUnchanged(temporary, own, out _))
            {
                // A third writer in the same instant: the replaced content must not be discarded.
                _temporary = null;
                Backups.Take(_target, temporary);
                return there is null || there == known ? throw FileErrors.Refused(FileProblem.Busy, Path) : true;
            }

            if (there is not null && there != known)
            {
                return true;
            }

            // Open for writing, but the same: a process that is just being started holds what its parent has open until its own program
            // begins.
            if (attempt == MostExchanges || !IsLeftAlone(_target.WholePath))
            {
                throw FileErrors.Refused(FileProblem.Busy, Path);
            }
        }
    }

    // Asks without exchanging anything: others that watch the file would see it change and change back.
    [SupportedOSPlatform("linux")]
    private static bool IsLeftAlone(string path)
    {
        for (var question = 0; question < MostQuestions; question++)
        {
            Thread.Sleep(BetweenQuestions);
            using var watch = WriteWatch.Of(path);
            if (!watch.IsWritten)
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>
    /// Whether content that has just lost its name is still the expected one, and no program writes it. Null is found if it cannot be read.
    /// </summary>
    [SupportedOSPlatform("linux")]
    private bool IsUnchanged(string temporary, ContentHash expected, out ContentHash? found)
    {
        // Watched while it is read, because a program that looked up the name before the exchange may open the file after it.
        using var watch = WriteWatch.Of(temporary);
        try
        {
            found = HashOf(temporary);
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            // Content that cannot be read must not be discarded.
            found = null;
            return false;
        }

        if (found != expected || watch.IsWritten)
        {
            return false;
        }

        if (watch.Release() is { } file)
        {
            LatelyReplaced.Add(file, expected, _target);
        }

        return true;
    }

    [SupportedOSPlatform("linux")]
    private bool Exchanged(string temporary, out int error)
    {
        try
        {
            var answer = PosixCalls.RenameAt2(
                PosixCalls.WorkingFolder, temporary, PosixCalls.WorkingFolder, _target.WholePath, PosixCalls.Exchange);
            error = answer == 0 ? 0 : Marshal.GetLastPInvokeError();
            return answer == 0;
        }
        catch (EntryPointNotFoundException)
        {
            error = PosixErrors.NoSuchCall;
            return false;
        }
    }

    private void Guarded(Action work)
    {
        lock (_gate)
        {
            if (_ended)
            {
                throw FileErrors.Refused(FileProblem.Abandoned, Path);
            }

            try
            {
                work();
            }
            catch (Exception failure) when (FileErrors.IsOfFiles(failure))
            {
                End();
                throw FileErrors.Of(failure, Path);
            }
        }
    }

    private void End()
    {
        if (_ended)
        {
            return;
        }

        _ended = true;
        Unfinished.Remove(this);
        try
        {
            Stream?.Dispose();
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            // A full disk reports again when the buffer is discarded. Important errors were reported before, or the file is being removed.
        }

        if (_temporary is { } temporary)
        {
            _temporary = null;
            Temporaries.Remove(temporary);
        }
    }

    /// <summary>The caller's view of the file: errors name the target.</summary>
    private sealed class TargetStream(Stream inner, UnfinishedFile owner, bool canSeek) : Stream
    {
        public override bool CanRead => false;

        public override bool CanSeek => canSeek;

        public override bool CanWrite => true;

        public override long Length => inner.Length;

        public override long Position
        {
            get => canSeek ? inner.Position : throw new NotSupportedException("A pipe or a device has no position.");
            set => Seek(value, SeekOrigin.Begin);
        }

        public override void Flush() => Named(inner.Flush);

        public override void Write(ReadOnlySpan<byte> buffer)
        {
            RefuseEnded();
            try
            {
                inner.Write(buffer);
            }
            catch (Exception failure) when (FileErrors.IsOfFiles(failure) || IsAbandoned(failure))
            {
                throw Refused(failure);
            }
        }

        public override void Write(byte[] buffer, int offset, int count) => Write(buffer.AsSpan(offset, count));

        public override long Seek(long offset, SeekOrigin origin)
        {
            if (!canSeek)
            {
                throw new NotSupportedException("A pipe or a device cannot be rewound.");
            }

            long position = 0;
            Named(() => position = inner.Seek(offset, origin));
            return position;
        }

        public override void SetLength(long value) => Named(() => inner.SetLength(value));

        public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException("This stream is write-only.");

        protected override void Dispose(bool disposing)
        {
            if (disposing)
            {
                inner.Dispose();
            }

            base.Dispose(disposing);
        }

        private void Named(Action work)
        {
            RefuseEnded();
            try
            {
                work();
            }
            catch (Exception failure) when (FileErrors.IsOfFiles(failure) || IsAbandoned(failure))
            {
                throw Refused(failure);
            }
        }

        // Abandoned by another thread during a call.
        private bool IsAbandoned(Exception failure) => failure is ObjectDisposedException && owner._ended;

        private FileRefusedException Refused(Exception failure) => failure is ObjectDisposedException
            ? FileErrors.Refused(FileProblem.Abandoned, owner.Path)
            : FileErrors.Of(failure, owner.Path);

        private void RefuseEnded()
        {
            if (owner._ended)
            {
                throw FileErrors.Refused(FileProblem.Abandoned, owner.Path);
            }
        }
    }
}
